/** The last digit, one up or one down: for gloves, with no dragging. */

interface StepperProps {
  shown: string;
  label: string;
  onStep: (by: 1 | -1) => void;
}

export function Stepper({ shown, label, onStep }: StepperProps) {
  return (
    <div class="stepper" role="group" aria-label={label}>
      <button type="button" aria-label={`${label}: one less`} onClick={() => onStep(-1)}>
        −
      </button>
      <output class="stepper-value">{shown}</output>
      <button type="button" aria-label={`${label}: one more`} onClick={() => onStep(1)}>
        +
      </button>
    </div>
  );
}
