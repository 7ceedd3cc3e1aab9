import type { Settings } from '../../app/host/api.ts';
import type { Command } from '../../app/language/commands.ts';
import { replyTo } from '../../app/run/coach.ts';
import type { Run } from '../../app/run/run.ts';
import { Earcons, type Earcon } from './earcons.ts';
import type { RoomEar } from './roomEar.ts';
import type { RoomMicrophone } from './roomMicrophone.ts';
import type { Shown } from './shown.ts';
import { Voice } from './voice.ts';

export interface RoomCoachOptions {
  readonly run: Run;
  readonly shown: Shown;
  readonly settings: Settings;
  readonly microphone: RoomMicrophone;
  readonly ear: RoomEar;
}

/** The coach in the room: what it says, shows as a caption, and plays. */
export class RoomCoach {
  private readonly voice: Voice;
  private readonly earcons: Earcons;

  constructor(private readonly options: RoomCoachOptions) {
    const { run, shown, settings, microphone, ear } = options;
    this.earcons = new Earcons(settings.volume);
    this.voice = new Voice({
      now: () => microphone.now,
      aloud: settings.voice,
      volume: settings.volume,
      onCaption: (caption) => shown.caption(caption),
      onSpoke: (spoken) => {
        // A caption alone sounds like nothing. While the trainee is being heard it must not make an echo of their words.
        const written = spoken.from === spoken.to;
        if (!written || !ear.isHearing) void run.spoke(spoken);
      },
    });
  }

  /** Whether something is being said or waits to be. */
  get speaking(): boolean {
    return this.voice.speaking;
  }

  say(text: string): void {
    void this.voice.say(text);
  }

  play(earcon: Earcon): void {
    this.earcons.play(earcon);
  }

  /** @param goesOn whether the rehearsal was broken off and is gone on with */
  greet(goesOn: boolean): void {
    const { plan, checklist } = this.options.run;
    const { title } = checklist.skill;
    const about =
      plan.form === null
        ? `${title}.`
        : `Mock test, skill ${this.place}: ${title}. Say "next skill" after each.`;
    const next = goesOn ? 'You were broken off. Say "go on".' : 'Say "I am ready" to begin.';
    this.say(`${about} ${next}`);
  }

  /** Reads the card of the skill that was opened. */
  announceSkill(): void {
    const { title, card } = this.options.run.checklist.skill;
    this.say(`Skill ${this.place}: ${title}. ${card.replace(/\s+/g, ' ').trim()}`);
  }

  /** Answers a command that was carried out. */
  answer(command: Command): void {
    const { run, microphone } = this.options;
    this.say(replyTo(run.checklist, run.state, command, microphone.now));
  }

  async close(): Promise<void> {
    this.voice.close();
    await this.earcons.close();
  }

  /** "2 of 5" */
  private get place(): string {
    const { opened, plan } = this.options.run;
    return `${opened} of ${plan.checklists.length}`;
  }
}
