import { describe, expect, it } from 'vitest';
import { findCommand, type Command } from './commands.ts';

const SAID: Readonly<Record<Command, readonly string[]>> = {
  begin: ['I am ready.', "I'm ready to begin", "Let's begin.", 'Start the rehearsal', "Okay, let's start.", 'Coach, start.'],
  'read card': [
    'Read the card.', 'Please read me the card again', 'Can you read the card?', 'Repeat the card', 'Repeat the car.',
    'Read the guard.', 'Red the card', 'Reed the cart.', 'What does the card say?', 'Coach, the card please.',
    "I'd like to hear the card again.", 'Um, read out the instructions, please',
  ],
  'time left': [
    'How much time is left?', 'How much time do I have?', 'How much time have I got left?', 'Time left?',
    'How many minutes are left', 'How much longer do I have?', 'Could you tell me how much time is left?',
    'How much time is lift?', 'Coach, time.', 'Couch, how long have I got?',
  ],
  'scrub time': [
    'How long have I scrubbed?', 'How long have I been scrubbing?', 'How many seconds have I scrubbed so far?',
    'How long did I scrub?', 'How long have I been washing my hands?', 'How many seconds so far?', 'How long have I scrapped?',
    'How long have I been counting?', 'Coach, how long?',
  ],
  pause: ['Pause.', 'Okay, pause please.', 'Pause the rehearsal', 'Paws.', 'Coach, pause.', 'Pause. Pause, please.', 'Coach, wait.', 'Pause, coach.'],
  'go on': ['Go on.', 'Continue', 'Carry on, please', 'Resume the rehearsal', "Okay, let's go on", "I'm ready to continue", 'Coach, go.'],
  correct: [
    'I want to correct something.', 'I want to correct a step', 'Let me correct that.', "I'd like to correct something",
    'Can I correct a step?', 'I made a mistake.', 'I have a correction.', 'Coach, correct that.', 'Coach, correction.',
  ],
  'next skill': ['Next skill', 'Next skill please.', 'Move on to the next skill', "Let's go on to the next skill", 'Next still.', 'Next go, please.', 'Coach, next.'],
  stop: [
    'Stop the rehearsal', 'I am finished.', 'End the test', "I'm done with the rehearsal", 'I want to stop the rehearsal',
    'Stop the rehearsel', 'Stop the reversal.', 'The rehearsal is over', 'Coach, stop.', "Coach, I'm done.",
  ],
}; // prettier-ignore

const NARRATION = [
  'I pause to let the water warm', 'Pausing under the nails', 'Read the card? I have read it.', 'I have read the card.',
  'I read the card before I begin', 'I read the band.', 'Read the band.', 'I check the card on the door', 'I start scrubbing now',
  'Start now.', 'Starting now', 'Begin now', 'Begin.', 'Start.', 'Stop.', 'And stop.', 'Time.', "Time's up.", 'Time is up',
  'Done.', 'I am done.', "I'm done scrubbing", 'I am finished scrubbing', 'I have finished counting.', 'Finished',
  'Stop scrubbing', 'I stop when I feel resistance', 'I stop the water', 'Stop the tap', 'Stop the water with a towel.',
  'next I rinse', 'Next', 'Next the soap', 'Next, the nails', 'carry on with the wrists', 'I carry on scrubbing',
  'Carry on rubbing between the fingers', 'I go on to the nails', 'Go on to the nails', 'Now I go on with the rinse',
  'I continue scrubbing', 'Continue to the wrists', 'Twenty seconds', 'That is twenty seconds', 'How long should I scrub?',
  'I scrub for twenty seconds', 'I scrub my hands', 'Scrub', 'How are you today?', 'How much does it hurt?', 'Correct.',
  'That is correct', 'The name is correct', 'I correct the water temperature', 'I let go of the card', 'I record the time',
  'I have one minute left', 'One more time', 'Again', 'And again', 'Repeat', 'I repeat it three times', 'Call light within reach',
  'I write it on the card', 'Are you ready?', 'I am ready to rinse', 'Ready to rinse', 'I begin with the greeting',
  'I begin to scrub', 'Let me start with my sleeves', 'Wash your hands at the sink', 'Wet the card', 'I finish the nails',
  'End of the scrub', 'End the scrub', 'I am finished with the soap', 'Finish the rinse', 'Stop the rinse', 'Hold on to the rail',
  'Hold on', 'Wait', 'One moment please', 'Stop me at once if it hurts', 'My coach says to read the card', 'Coach says pause here',
  'The coach taught me to stop the rehearsal when unsure', 'I put the next towel in the bin', 'On to the next step', 'Thank you',
  'Okay', 'Please', '', 'Um.', 'Slow, careful.', 'Slowly, carefully.', 'Slow and with care.',
]; // prettier-ignore

describe('a command', () => {
  it.each(Object.entries(SAID).flatMap(([command, texts]) => texts.map((text) => [text, command] as const)))(
    '"%s" is "%s"',
    (text, command) => {
      expect(findCommand(text)?.command).toBe(command);
    },
  );

  it.each(NARRATION)('"%s" is narration', (text) => {
    expect(findCommand(text)).toBeNull();
  });

  it('that could end what is timed does not end the rehearsal while a clock runs', () => {
    expect(findCommand('I am finished.', true)).toBeNull();
    expect(findCommand('Stop the rehearsal.', true)?.command).toBe('stop');
    expect(findCommand('Coach, I am finished.', true)?.command).toBe('stop');
  });

  it('may follow narration where it follows the name', () => {
    expect(findCommand('I am rinsing my hands. Coach, pause.')).toEqual({
      command: 'pause',
      called: true,
      from: 5,
    });
    expect(findCommand('I am rinsing my hands. Pause.')).toBeNull();
  });
});
