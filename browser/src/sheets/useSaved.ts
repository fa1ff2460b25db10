/** Going on once what was saved is what the job holds, so that no screen is shown without it. */
import { useEffect, useState } from "preact/hooks";
import type { Fact } from "../journal";
import type { Sheet } from "./job";

/** Gives what is to be called with the saved fact; `then` is called when the fold has it, or at once in a frozen job. */
export function useSaved(sheet: Sheet, table: string, key: string, then: () => void): (fact: Fact) => void {
  const [saved, setSaved] = useState<string | null>(null);
  useEffect(() => {
    if (saved === null) return;
    if (sheet.folded.frozen || sheet.folded.tables[table]?.get(key)?.fact?.id === saved) {
      setSaved(null);
      then();
    }
  }, [saved, sheet]);
  return (fact) => setSaved(fact.id);
}
