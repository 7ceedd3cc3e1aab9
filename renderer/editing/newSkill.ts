/** A name made of a title: "Making a bed" → "making-a-bed"; of letters and digits only. */
export const idFrom = (title: string): string =>
  title
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^[^a-z]+|-$/g, '');

/** The name, or the first of its kind ("rinse-2") that is not taken. */
export function freeId(id: string, taken: readonly string[]): string {
  if (!taken.includes(id)) return id;
  for (let n = 2; ; n += 1) if (!taken.includes(`${id}-${n}`)) return `${id}-${n}`;
}

/** A new skill to begin with: it can be rehearsed as it is. */
export const templateOf = (id: string, title: string): string =>
  `# ${title}, as it is rehearsed at our school.
schema: 1
id: ${id}
title: ${JSON.stringify(title)}
version: 1
card: |
  Say each step aloud as you do it.
steps:
  - use: knock
  - use: greet
  - use: explain
  - id: first-step
    text: Say here what is marked
    cues:
      - "i say here what a trainee says"
      - "a second way to say it"
  - use: call-light
  - use: hands-after
`;
