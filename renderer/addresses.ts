/** Stands in an address for the id of a rehearsal that could not be kept: it is gone when the window is. */
const UNKEPT = 'not-kept';

/** Where each screen is, behind the "#" of the page's address. */
export const ADDRESS = {
  home: '/',
  rehearse: (skill: string): string => `/rehearse/${skill}`,
  room: '/room',
  mockTest: '/mock-test',
  progress: '/progress',
  skillProgress: (skill: string): string => `/progress/${skill}`,
  rehearsal: (id: string | null): string => `/rehearsals/${id ?? UNKEPT}`,
  /** One skill of a mock test, by its index. */
  skillOfTest: (id: string | null, skill: number): string =>
    `/rehearsals/${id ?? UNKEPT}/skills/${skill + 1}`,
  skills: '/skills',
  editSkill: (skill: string): string => `/skills/${skill}`,
  instructor: '/instructor',
  review: (id: string): string => `/review/${id}`,
  agreement: '/agreement',
  bench: '/bench',
  settings: '/settings',
  soundCheck: '/settings/sound-check',
  listening: '/settings/listening',
} as const;
