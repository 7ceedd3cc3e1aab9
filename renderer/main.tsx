import { createRoot } from 'react-dom/client';
import { z } from 'zod';
import { App } from './App.tsx';
import './styles/all.css';

// The page's content security policy forbids making code from text, which zod would otherwise try.
z.config({ jitless: true });

// index.html has it.
createRoot(document.getElementById('root')!).render(<App />);
