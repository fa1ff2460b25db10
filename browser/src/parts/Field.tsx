/** A labelled field; what is typed stays as it is typed. */
interface FieldProps {
  label: string;
  value: string;
  change: (value: string) => void;
  kind?: "text" | "datetime-local";
  hint?: string;
}

export function Field({ label, value, change, kind = "text", hint }: FieldProps) {
  const typed = (event: { currentTarget: HTMLInputElement }) => change(event.currentTarget.value);
  return (
    <label class="field">
      <span>{label}</span>
      {kind === "text" ? (
        <input type="text" value={value} autocomplete="off" onInput={typed} />
      ) : (
        <input type="datetime-local" value={value} onInput={typed} />
      )}
      {hint && <small class="quiet">{hint}</small>}
    </label>
  );
}
