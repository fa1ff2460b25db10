/** The first few of many sentences; the others are one tap away. */
const AT_ONCE = 3;

export function Some({ words }: { words: readonly string[] }) {
  const rest = words.slice(AT_ONCE);
  const rows = (some: readonly string[]) => (
    <ul class="plain some">
      {some.map((each) => (
        <li>{each}</li>
      ))}
    </ul>
  );
  return (
    <>
      {rows(words.slice(0, AT_ONCE))}
      {rest.length > 0 && (
        <details>
          <summary>And {rest.length} more</summary>
          {rows(rest)}
        </details>
      )}
    </>
  );
}
