/** What is wrong with files or remarked about them, all of it, each with where it stands. */
export interface Finding {
  where: string;
  what: string;
}

export const capital = (words: string) => words.slice(0, 1).toUpperCase() + words.slice(1);

interface FindingsProps {
  what: string;
  findings: readonly Finding[];
  /** Whether it kept something from being done, so that it is read out at once. */
  alarm?: boolean;
}

export function Findings({ what, findings, alarm = false }: FindingsProps) {
  if (!what && findings.length === 0) return null;
  return (
    <div class="notice" role={alarm ? "alert" : undefined}>
      {what && <p>{capital(what)}</p>}
      {findings.length > 0 && (
        <ul>
          {findings.map(({ where, what }) => (
            <li>
              <strong>{where}</strong> {what}
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}
