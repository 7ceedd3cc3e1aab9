import { readFile } from 'node:fs/promises';
import { renderToStaticMarkup } from 'react-dom/server';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { BREATH_PATTERNS, breathe, breathsInMinute } from '../../app/bench/breaths.ts';
import { CONTAINER, heightOf, seenFrom } from '../../app/bench/container.ts';
import { beat, beatsAMinute, PULSE_PATTERNS } from '../../app/bench/pulse.ts';
import { toleranceOf } from '../../app/bench/readings/reading.ts';
import { BEAMS } from '../../app/bench/scale.ts';
import { RulesSchema } from '../../app/skills/skill.ts';
import { BalanceBeam } from './drawings/BalanceBeam.tsx';
import { Chest } from './drawings/Chest.tsx';
import { Clock } from './drawings/Clock.tsx';
import { Gauge } from './drawings/Gauge.tsx';
import { Graduate } from './drawings/Graduate.tsx';
import { CountTruth } from './drawings/TruthPicture.tsx';
import { Wrist } from './drawings/Wrist.tsx';

const draw = (drawing: React.ReactElement): string => renderToStaticMarkup(drawing);
const count = (markup: string, what: RegExp): number => markup.match(what)?.length ?? 0;

/** Degrees by which the part with this class, or the group around it, is turned. */
const turned = (markup: string, part: RegExp): number => {
  const before = markup.slice(0, markup.search(part) + 400);
  const turns = [...before.matchAll(/rotate\(([-\d.e]+) /g)];
  return Number(turns.find(({ index }) => index > markup.search(part) - 60)?.[1]);
};

describe('the rules of the program', () => {
  it('name the tolerances of the bench', async () => {
    const rules = async (id: string) =>
      RulesSchema.parse(
        parse(await readFile(new URL(`../../skills/rules/${id}.yaml`, import.meta.url), 'utf8')),
      );
    const units = [
      'breaths a minute',
      'beats a minute',
      'mmHg',
      'millilitres',
      'pounds',
      'kilograms',
    ] as const;
    for (const id of ['practice', 'strict']) {
      const named = await rules(id);
      expect(units.map((unit) => toleranceOf(named, unit))).toEqual([2, 4, 8, 25, 1, 0.5]);
    }
  });
});

describe('the drawings', () => {
  it('clock: sixty marks, no digits, a hand that sweeps, or steps with less movement', () => {
    const clock = draw(<Clock seconds={36_487.5} still={false} />);
    expect(count(clock, /class="bench-mark/g)).toBe(60);
    expect(count(clock, /<text/g)).toBe(0);
    expect(turned(clock, /bench-hand-second/) % 360).toBeCloseTo(45, 6);
    expect(turned(draw(<Clock seconds={36_487.5} still />), /bench-hand-second/) % 360).toBeCloseTo(42, 6);
  });

  it('gauge: a mark every 2 mmHg up to 300, the needle where the pressure is', () => {
    const gauge = draw(<Gauge pressure={117.3} still={false} />);
    expect(count(gauge, /class="bench-mark/g)).toBe(151);
    expect(turned(gauge, /bench-needle/)).toBeCloseTo(117.3 - 150, 6);
    expect(turned(draw(<Gauge pressure={117.3} still />), /bench-needle/)).toBe(118 - 150);
  });

  it('chest and wrist move with the breath and the beat, and not with less movement', () => {
    expect(draw(<Chest height={1} still={false} />)).not.toBe(draw(<Chest height={0} still={false} />));
    const shapes = (height: number): string[] =>
      draw(<Chest height={height} still />).match(/ d="[^"]*"/g) ?? [];
    expect(shapes(1)).toEqual(shapes(0));
    const place = (lift: number, still: boolean) =>
      draw(<Wrist spot="thumb side" lift={lift} still={still} />).match(/translate\([^)]*\)/g);
    expect(place(1, false)).not.toEqual(place(0, false));
    expect(place(1, true)).toEqual(place(0, true));
  });

  it.each([0, 8, 24])(
    'container seen from %d degrees above: the surface lies where the geometry says',
    (above) => {
      for (const volume of [150, 410, 880]) {
        const markup = draw(<Graduate volume={volume} above={above} />);
        const labels = [...markup.matchAll(/ y="([\d.]+)"[^>]*>(\d+)</g)].map(
          (m) => [Number(m[2]), Number(m[1])] as const,
        );
        const [low, high] = [labels.at(0), labels.at(-1)];
        const surface = Number(/cy="([\d.]+)" r="/.exec(markup)?.[1]);
        if (!low || !high) throw new Error('The container has no figures.');
        // The line through the figures of the lowest and the highest mark.
        const seen = low[0] + ((surface - low[1]) / (high[1] - low[1])) * (high[0] - low[0]);
        const distance = 1e7;
        const height = heightOf(volume) + Math.tan((above * Math.PI) / 180) * (distance + CONTAINER.radius);
        expect(seen).toBeCloseTo(seenFrom({ height, distance }, volume), 2);
      }
    },
  );

  it('beam: a notch for each step of the large poise', () => {
    const beam = draw(<BalanceBeam beam={BEAMS.pounds} poises={{ large: 2, small: 12.25 }} pointer={0} />);
    expect(count(beam, /bench-notch/g)).toBe(BEAMS.pounds.notches + 1);
  });

  it('truth: as many breaths and beats drawn in the minute as there were', () => {
    const stretch = { from: 12.3, to: 70 };
    const wrong = Array.from({ length: 40 }, (_, seed) => seed).filter((seed) => {
      const breathing = breathe(seed, BREATH_PATTERNS[seed % 5] ?? 'even', 120);
      const pulse = beat(seed, PULSE_PATTERNS[seed % 2] ?? 'regular', 120);
      const breaths = draw(
        <CountTruth counted={{ kind: 'breaths', of: breathing }} stretch={stretch} seconds={60} />,
      );
      const beats = draw(
        <CountTruth counted={{ kind: 'beats', of: pulse }} stretch={stretch} seconds={30} />,
      );
      return (
        count(breaths, /bench-began/g) !== breathsInMinute(breathing, 12.3) ||
        2 * count(beats, /bench-began/g) !== beatsAMinute(pulse, 12.3, 30)
      );
    });
    expect(wrong).toEqual([]);
  });
});
