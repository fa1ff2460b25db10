/** Which of a job's lines is looked at: buttons where there are several. */
interface LinesProps {
  lines: readonly { readonly line: string; readonly name: string }[];
  chosen: string;
  /** Address of the screen for a line. */
  address: (line: string) => string;
}

export function Lines({ lines, chosen, address }: LinesProps) {
  const each = lines.filter(({ line }, i) => lines.findIndex((other) => other.line === line) === i);
  if (each.length < 2) return null;
  return (
    <nav class="choices" aria-label="Line">
      {each.map(({ line, name }) => (
        <a class={line === chosen ? "button main" : "button"} aria-current={line === chosen ? "true" : undefined} href={address(line)}>
          {name}
        </a>
      ))}
    </nav>
  );
}
