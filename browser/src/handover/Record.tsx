/** The record of a job: what it lacks, what stays open, the ledger, and the freeze. */
import type { HandoverScreen } from "../api/screens";
import type { Folded } from "../fold/fold";
import { record } from "../journal";
import { Owners } from "../parts/Owners";
import { Page } from "../parts/Page";
import { to } from "../router";
import { Now } from "./Now";
import { counted, when, type PartProps } from "./part";

export function Record({ folded, seen, screen }: PartProps) {
  const { job } = folded;
  const missing = screen?.record.filter((check) => check.missing) ?? [];
  const first = missing.find(({ id, go }) => go && id !== "frozen");
  const [permitsNothing, ...cautions] = screen?.cautions ?? [];
  return (
    <Page
      title="Handover"
      back={to("job", job)}
      foot={
        first?.go ? (
          <a class="button main wide" href={`${to("job", job)}/${first.go.route}`}>
            {first.go.words}
          </a>
        ) : (
          screen && !folded.frozen && <Freeze job={job} main />
        )
      }
    >
      <Frozen folded={folded} />
      <p class="answer">{screen?.headline ?? "What the record still lacks is told once the server is reached."}</p>
      <Now seen={seen} never="" />
      {permitsNothing && <p>{permitsNothing}</p>}
      {missing.length > 0 && (
        <section aria-labelledby="missing">
          <h2 id="missing">Missing from the record</h2>
          <ul class="plain rows">
            {missing.map(({ words, missing: what, go }) => (
              <li>
                <p>
                  <strong>{words}.</strong> {what}
                </p>
                {go && go.route !== "handover" && (
                  <a class="button" href={`${to("job", job)}/${go.route}`}>
                    {go.words}
                  </a>
                )}
              </li>
            ))}
          </ul>
        </section>
      )}
      <Open screen={screen} />
      <Parts folded={folded} screen={screen} />
      <Owners folded={folded} />
      <Ledger screen={screen} />
      {!folded.frozen && (
        <section aria-labelledby="freeze">
          <h2 id="freeze">Freeze it</h2>
          <p>
            Frozen, the job stands as it was handed over. What is entered later is kept beside it until somebody reopens it,
            which is one tap too.
          </p>
          <Freeze job={job} />
        </section>
      )}
      <There screen={screen} />
      {[screen?.expiry, ...cautions].filter(Boolean).map((words) => (
        <p class="quiet">{words}</p>
      ))}
    </Page>
  );
}

function Freeze({ job, main = false }: { job: string; main?: boolean }) {
  const freeze = async () => {
    await record({ job, kind: "freeze", payload: { why: "handed over" } });
    scrollTo(0, 0);
  };
  return (
    <button type="button" class={main ? "main wide" : ""} onClick={() => void freeze()}>
      Freeze the job as it is
    </button>
  );
}

function Frozen({ folded }: { folded: Folded }) {
  const { frozen, late, job } = folded;
  if (!frozen) return null;
  return (
    <div class="notice" role="status">
      <p>
        Frozen {when(frozen.at)}
        {frozen.by && ` by ${frozen.by}`}. It stands as it was said then.
        {late.length > 0 && ` ${late.length === 1 ? "1 entry" : `${late.length} entries`} came later and wait beside it.`}
      </p>
      <button type="button" onClick={() => void record({ job, kind: "reopen", payload: { why: "" } })}>
        Reopen{late.length > 0 && " and take them in"}
      </button>
    </div>
  );
}

function Open({ screen }: { screen: HandoverScreen | null }) {
  if (!screen || screen.open.length === 0) return null;
  return (
    <section aria-labelledby="open">
      <h2 id="open">Stays open</h2>
      <ul>
        {screen.open.map((words) => (
          <li>{words}</li>
        ))}
      </ul>
    </section>
  );
}

function Parts({ folded, screen }: { folded: Folded; screen: HandoverScreen | null }) {
  const { job, tables, told } = folded;
  const painted = tables.marks?.size ?? 0;
  const left = screen?.to_paint.filter(({ key }) => !tables.marks?.has(key)).length ?? 0;
  const parts: [string, string, string][] = [
    ["marks", "Marks as painted", `${painted} painted${left > 0 ? `, ${left} to paint or to write down` : ""}`],
    ["files", "Reports and files", "for crew, excavator, owner"],
    ["said", "What was said, and when", "as it was answered then"],
    ["told", "Who was told", told.length === 0 ? "nobody yet" : counted(told.length, "time")],
  ];
  return (
    <nav aria-label="Handing over">
      <h2>Hand it over</h2>
      <ul class="plain rows">
        {parts.map(([part, words, state]) => (
          <li>
            <a class="row-link" href={to("job", job, "handover", part)}>
              <strong>{words}</strong>: {state}
            </a>
          </li>
        ))}
      </ul>
    </nav>
  );
}

/** Lines and records of the ledger; its owners are told, and answered for, above. */
function Ledger({ screen }: { screen: HandoverScreen | null }) {
  const rows = screen?.ledger.filter(({ expected_by }) => expected_by !== "ticket") ?? [];
  if (rows.length === 0) return null;
  return (
    <section aria-labelledby="ledger">
      <h2 id="ledger">Lines and records</h2>
      <ul class="plain rows">
        {rows.map(({ name, became, why, by, at, is_open }) => (
          <li>
            <strong>{name}</strong>: {[became, why, by && `by ${by}`, at].filter(Boolean).join(", ")}.
            {is_open && <strong> Open.</strong>}
          </li>
        ))}
      </ul>
    </section>
  );
}

function There({ screen }: { screen: HandoverScreen | null }) {
  const there = screen?.record.filter((check) => !check.missing) ?? [];
  if (there.length === 0) return null;
  return (
    <section aria-labelledby="there">
      <h2 id="there">In the record</h2>
      <ul>
        {there.map(({ words }) => (
          <li>{words}</li>
        ))}
      </ul>
    </section>
  );
}
