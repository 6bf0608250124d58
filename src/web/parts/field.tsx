import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';

/** A labelled control with its help and its problem tied to it. `children` draws the control from the ids. */
export function Field({ label, help, problem, unit, children }: { readonly label: string; readonly help?: string | undefined; readonly problem?: string | undefined; readonly unit?: string | undefined; readonly children: (props: { readonly id: string; readonly 'aria-describedby'?: string; readonly 'aria-invalid'?: 'true' }) => ComponentChildren }) {
  const id = useId();
  const described = [help ? `${id}-help` : '', problem ? `${id}-problem` : ''].filter((s) => s !== '').join(' ');
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <div class="control">
        {children({ id, ...(described ? { 'aria-describedby': described } : {}), ...(problem ? { 'aria-invalid': 'true' as const } : {}) })}
        {unit && <span class="unit">{unit}</span>}
      </div>
      {help && <p class="help" id={`${id}-help`}>{help}</p>}
      {problem && <p class="problem" id={`${id}-problem`}>{problem}</p>}
    </div>
  );
}
