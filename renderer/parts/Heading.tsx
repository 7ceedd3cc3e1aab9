import { useEffect, useRef } from 'react';

/**
 * The heading of a screen. It takes the focus when the screen comes up, so that keyboards and screen readers follow, and is the
 * title of the window.
 */
export function Heading({
  children,
  className,
}: {
  readonly children: React.ReactNode;
  readonly className?: string;
}) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  useEffect(() => {
    document.title = `${heading.current?.textContent} · Sinkside`;
  });
  return (
    <h1 ref={heading} tabIndex={-1} className={className}>
      {children}
    </h1>
  );
}
