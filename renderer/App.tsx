import { lazy, Suspense, useEffect } from 'react';
import { Link, Redirect, Route, Router, Switch } from 'wouter';
import { useHashLocation } from 'wouter/use-hash-location';
import { ADDRESS } from './addresses.ts';
import { KnownProvider, useKnown } from './known.tsx';
import { wantedIn } from './found/wanted.ts';
import { Frame } from './parts/Frame.tsx';
import { Heading } from './parts/Heading.tsx';
import { InstructorOnly } from './people/InstructorOnly.tsx';
import { RehearsingProvider, useRehearsing } from './rehearsing.tsx';
import { Home } from './screens/Home.tsx';
import { SkillPage } from './screens/SkillPage.tsx';

// What is not needed at once is loaded when it is opened.
const Room = lazy(() => import('./screens/Room.tsx').then((m) => ({ default: m.Room })));
const Kept = lazy(() => import('./screens/Kept.tsx').then((m) => ({ default: m.Kept })));
const MockTest = lazy(() => import('./screens/MockTest.tsx').then((m) => ({ default: m.MockTest })));
const Progress = lazy(() => import('./screens/Progress.tsx').then((m) => ({ default: m.Progress })));
const SkillProgress = lazy(() =>
  import('./progress/SkillProgress.tsx').then((m) => ({ default: m.SkillProgress })),
);
const Skills = lazy(() => import('./screens/Skills.tsx').then((m) => ({ default: m.Skills })));
const EditSkill = lazy(() => import('./screens/Skills.tsx').then((m) => ({ default: m.EditSkill })));
const Instructor = lazy(() => import('./screens/Instructor.tsx').then((m) => ({ default: m.Instructor })));
const ReviewPage = lazy(() => import('./review/ReviewPage.tsx').then((m) => ({ default: m.ReviewPage })));
const AgreementPage = lazy(() =>
  import('./agreement/AgreementPage.tsx').then((m) => ({ default: m.AgreementPage })),
);
const Bench = lazy(() => import('./screens/Bench.tsx').then((m) => ({ default: m.Bench })));
const Settings = lazy(() => import('./screens/Settings.tsx').then((m) => ({ default: m.Settings })));
const SoundCheck = lazy(() => import('./screens/SoundCheck.tsx').then((m) => ({ default: m.SoundCheck })));
const Listening = lazy(() => import('./screens/Listening.tsx').then((m) => ({ default: m.Listening })));

/** The whole program in the page: what the host knows, the rehearsal that may be going on, and a screen for each address. */
export function App() {
  return (
    <Router hook={useHashLocation}>
      <KnownProvider>
        <Theme />
        <RehearsingProvider>
          <Suspense fallback={<p className="opening">Opening…</p>}>
            <Switch>
              <Route path={ADDRESS.room}>
                <OpenRoom />
              </Route>
              <Route>
                <Frame>
                  <Suspense fallback={<p className="opening">Opening…</p>}>
                    <Screens />
                  </Suspense>
                </Frame>
              </Route>
            </Switch>
          </Suspense>
        </RehearsingProvider>
      </KnownProvider>
    </Router>
  );
}

function Screens() {
  return (
    <Switch>
      <Route path={ADDRESS.home} component={Home} />
      <Route path="/rehearse/:skill">{({ skill }) => <SkillPage key={skill} id={skill} />}</Route>
      <Route path={ADDRESS.mockTest} component={MockTest} />
      <Route path={ADDRESS.progress} component={Progress} />
      <Route path="/progress/:skill/:wanted?">
        {({ skill, wanted }) => <SkillProgress key={skill} skill={skill} wanted={wantedIn(wanted)} />}
      </Route>
      <Route path="/rehearsals/:id">{({ id }) => <Kept key={id} id={id} skill={null} />}</Route>
      <Route path="/rehearsals/:id/skills/:number">
        {({ id, number }) => <Kept key={`${id} ${number}`} id={id} skill={Number(number) - 1} />}
      </Route>
      <Route path={ADDRESS.skills} component={Skills} />
      <Route path="/skills/:skill">{({ skill }) => <EditSkill key={skill} id={skill} />}</Route>
      <Route path="/instructor/:wanted?">
        {({ wanted }) => (
          <InstructorOnly>
            <Instructor wanted={wantedIn(wanted)} />
          </InstructorOnly>
        )}
      </Route>
      <Route path="/review/:id">
        {({ id }) => (
          <InstructorOnly>
            <ReviewPage key={id} id={id} />
          </InstructorOnly>
        )}
      </Route>
      <Route path={ADDRESS.agreement}>
        <InstructorOnly>
          <AgreementPage />
        </InstructorOnly>
      </Route>
      <Route path="/bench/:seed?">{({ seed }) => <Bench key={seed} seed={seed} />}</Route>
      <Route path={ADDRESS.settings} component={Settings} />
      <Route path={ADDRESS.soundCheck} component={SoundCheck} />
      <Route path={ADDRESS.listening} component={Listening} />
      <Route>
        <NoSuchScreen />
      </Route>
    </Switch>
  );
}

/** The room, while a rehearsal is going on. Opened by its address alone it leads home, where what was cut off is offered. */
function OpenRoom() {
  const { room, abandon } = useRehearsing();
  useEffect(() => {
    document.title = 'Rehearsal · Sinkside';
    return () => {
      if (room) abandon(room);
    };
  }, [room, abandon]);
  return room ? (
    <Room key={room.plan.checklist.skill.id} room={room} />
  ) : (
    <Redirect to={ADDRESS.home} replace />
  );
}

function NoSuchScreen() {
  return (
    <main className="page">
      <Heading>There is no such screen</Heading>
      <p>
        The address does not lead anywhere. <Link href={ADDRESS.home}>Go to the skills.</Link>
      </p>
    </main>
  );
}

/** Light or dark, as it is set. */
function Theme() {
  const { theme } = useKnown().settings;
  useEffect(() => {
    document.documentElement.dataset['theme'] = theme;
  }, [theme]);
  return null;
}
