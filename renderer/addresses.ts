import { asText, type Wanted } from './found/wanted.ts';

/** Stands in an address for the id of a rehearsal that could not be kept: it is gone when the window is. */
const UNKEPT = 'not-kept';

/** Where each screen is, behind the "#" of the page's address. */
export const ADDRESS = {
  home: '/',
  rehearse: (skill: string): string => `/rehearse/${skill}`,
  room: '/room',
  mockTest: '/mock-test',
  progress: '/progress',
  /** @param wanted whose attempts, and when; all of them where it is left out */
  skillProgress: (skill: string, wanted?: Wanted): string => behind(`/progress/${skill}`, wanted),
  rehearsal: (id: string | null): string => `/rehearsals/${id ?? UNKEPT}`,
  /** One skill of a mock test, by its index. */
  skillOfTest: (id: string | null, skill: number): string =>
    `/rehearsals/${id ?? UNKEPT}/skills/${skill + 1}`,
  skills: '/skills',
  editSkill: (skill: string): string => `/skills/${skill}`,
  instructor: '/instructor',
  /** The instructor's list, of what is wanted. */
  instructorsList: (wanted: Wanted): string => behind('/instructor', wanted),
  review: (id: string): string => `/review/${id}`,
  agreement: '/agreement',
  bench: '/bench',
  settings: '/settings',
  soundCheck: '/settings/sound-check',
  listening: '/settings/listening',
} as const;

/** An address with what is wanted there behind it, where that is anything. */
function behind(address: string, wanted?: Wanted): string {
  const text = wanted ? asText(wanted) : '';
  return text === '' ? address : `${address}/${text}`;
}

/** The areas of the program: where each begins, what else belongs to it, and its sign (24 × 24). */
export const AREAS = [
  {
    name: 'Rehearse',
    to: ADDRESS.home,
    within: ['/rehearse', ADDRESS.bench],
    sign: 'M12 3a3 3 0 0 1 3 3v5a3 3 0 0 1-6 0V6a3 3 0 0 1 3-3zM5.5 11a6.5 6.5 0 0 0 13 0M12 17.5V21',
  },
  {
    name: 'Mock test',
    to: ADDRESS.mockTest,
    within: [],
    sign: 'M6 4h12v17H6zM9 4V2.5h6V4M9 10.5l1.3 1.3 2.2-2.6M9 16l1.3 1.3 2.2-2.6M14.8 11h.7M14.8 16.5h.7',
  },
  {
    name: 'Progress',
    to: ADDRESS.progress,
    within: ['/rehearsals'],
    sign: 'M3.5 20.5h17M5.5 16l4.5-5 3.5 3 5.5-8',
  },
  {
    name: 'Skills',
    to: ADDRESS.skills,
    within: [],
    sign: 'M4 5h16M4 10h10M4 15h6M13.5 20.5l.8-3.2 6-6 2.3 2.3-6 6z',
  },
  {
    name: 'Instructor',
    to: ADDRESS.instructor,
    within: ['/review'],
    sign: 'M2.5 12c4.2-7.3 14.8-7.3 19 0-4.2 7.3-14.8 7.3-19 0zM12 9a3 3 0 1 0 0 6 3 3 0 0 0 0-6z',
  },
  {
    name: 'Settings',
    to: ADDRESS.settings,
    within: [],
    sign: 'M4 7h9M17 7h3M4 17h3M11 17h9M15 4.8v4.4M9 14.8v4.4',
  },
] as const;
