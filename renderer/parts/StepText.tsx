/** A step's text, and that it is critical where it is. */
export const StepText = ({ text, critical }: { readonly text: string; readonly critical: boolean }) => (
  <>
    {text} {critical && <span className="tag">critical</span>}
  </>
);
