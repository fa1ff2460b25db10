/** What each column of a log is taken for, with some of its cells; a wrong guess is put right here. */
import type { LogLook, LogMapping } from "../api/screens";
import { withColumn } from "./logs";

const UNITS: Record<string, string> = {
  m: "metres", ft: "feet", in: "inches", cm: "centimetres", mm: "millimetres", ma: "mA", a: "A", ua: "µA",
  hz: "Hz", khz: "kHz", mhz: "MHz", deg: "degrees", db: "dB", cells: "each cell says its own",
};

export function Columns({ seen, ask }: { seen: LogLook; ask: (mapping: LogMapping) => void }) {
  if (seen.columns.length === 0) return null;
  const fields = new Map(seen.fields.map((field) => [field.name, field]));
  return (
    <section aria-labelledby="columns">
      <h2 id="columns">What its columns hold</h2>
      <ul class="plain rows">
        {seen.columns.map(({ name, samples, filled, field, unit, why }) => {
          const units = fields.get(field)?.units ?? [];
          const set = (next: string, of: string) => ask(withColumn(seen.mapping, name, next, of));
          return (
            <li>
              <p>
                <strong>{name}</strong>: {samples.join(" · ") || "nothing"}{" "}
                <span class="quiet">
                  ({filled} of {seen.rows} filled{why && `; ${why}`})
                </span>
              </p>
              <div class="choices">
                <select aria-label={`${name} holds`} value={field} onChange={(event) => set(event.currentTarget.value, "")}>
                  <option value="">nothing to take</option>
                  {seen.fields.map((each) => (
                    <option value={each.name}>{each.words}</option>
                  ))}
                </select>
                {units.length > 0 && (
                  <select aria-label={`Unit of ${name}`} value={unit} onChange={(event) => set(field, event.currentTarget.value)}>
                    {!unit && <option value="">unit not said</option>}
                    {units.map((each) => (
                      <option value={each}>{UNITS[each] ?? each}</option>
                    ))}
                    {!units.includes("cells") && unit === "cells" && <option value="cells">{UNITS.cells}</option>}
                  </select>
                )}
              </div>
            </li>
          );
        })}
      </ul>
    </section>
  );
}
