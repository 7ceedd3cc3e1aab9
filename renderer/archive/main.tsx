import { createRoot } from 'react-dom/client';
import { z } from 'zod';
import '../styles/all.css';
import { ArchivePage } from './ArchivePage.tsx';

// The page's content security policy forbids making code from text, which zod would otherwise try.
z.config({ jitless: true });

// archive.html has it.
createRoot(document.getElementById('root')!).render(<ArchivePage />);
