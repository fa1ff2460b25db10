/** What is wrong with files or remarked about them, all of it, each with where it stands. */
export interface Finding {
  where: string;
  what: string;
}

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
      {what && <p>{what}</p>}
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
