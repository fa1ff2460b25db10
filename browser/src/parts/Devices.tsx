/** Whether this phone may ask the server, how it comes to, and at the server which phones may. */
import { useEffect, useState } from "preact/hooks";
import { getJson, Gone, postJson, Refused } from "../api/client";
import type { CodeBody, DevicesBody } from "../api/screens";
import { ownDevice, send, useSetting } from "../journal";
import { spoken } from "../words/times";
import { Field } from "./Field";

type Seen = DevicesBody | "gone" | "not paired" | null;

export interface Pairing {
  seen: Seen;
  wrong: string;
  look: () => Promise<void>;
  attempt: (work: () => Promise<unknown>) => Promise<void>;
  show: (seen: DevicesBody) => void;
}

/** How this device stands with the server: may it ask, and which others may. */
export function usePairing(): Pairing {
  const [seen, setSeen] = useState<Seen>(null);
  const [wrong, setWrong] = useState("");
  const attempt = async (work: () => Promise<unknown>): Promise<void> => {
    setWrong("");
    try {
      await work();
    } catch (reason) {
      if (reason instanceof Gone) setSeen("gone");
      else if (reason instanceof Refused && reason.status === 401) setSeen("not paired");
      else setWrong((reason as Error).message);
    }
  };
  const look = () => attempt(async () => setSeen(await getJson<DevicesBody>("/api/devices")));
  useEffect(() => void look(), []);
  return { seen, wrong, look, attempt, show: setSeen };
}

/** The first thing on a device that may not ask the server: how it comes to. Nothing elsewhere. */
export function PairFirst({ pairing }: { pairing: Pairing }) {
  const { seen, wrong, look, attempt } = pairing;
  if (seen !== "not paired") return null;
  const pair = (sent: { code: string; device: string; name: string }) => attempt(async () => (await postJson("/api/pair", sent), send(), await look()));
  return (
    <section>
      <Pair pair={pair} />
      {wrong && <p role="alert">{wrong}</p>}
    </section>
  );
}

export function Devices({ pairing }: { pairing: Pairing }) {
  const { seen, wrong, look, attempt, show } = pairing;
  if (seen === null || seen === "not paired") return null;
  if (seen === "gone")
    return (
      <section>
        <h2>The server</h2>
        <p>It does not answer. What is written down waits here and is sent when it does.</p>
        <button type="button" onClick={() => void look()}>
          Ask again
        </button>
      </section>
    );
  const end = (device: string) =>
    attempt(async () => {
      const left = await postJson<DevicesBody>(`/api/devices/${device}/revoke`, {});
      if (left.asking === device) await look(); // refused from now on, and says so
      else show(left);
    });
  return (
    <section>
      {seen.asking === null ? <AtServer seen={seen} attempt={attempt} end={end} /> : <OnPhone seen={seen} end={end} />}
      {wrong && <p role="alert">{wrong}</p>}
    </section>
  );
}

function Pair({ pair }: { pair: (sent: { code: string; device: string; name: string }) => Promise<void> }) {
  const [code, setCode] = useState("");
  const [person] = useSetting("name", "");
  const [called, setCalled] = useState<string | null>(null);
  const name = called ?? person ?? "";
  return (
    <form onSubmit={(event) => (event.preventDefault(), void ownDevice().then((device) => pair({ code, device, name: name.slice(0, 60) })))}>
      <h2>Pair this device with the server</h2>
      <p>Until then nothing is sent and nothing is fetched; what is written down waits here.</p>
      <Field label="Pairing code, as the server shows it" value={code} change={setCode} hint="Good for one device, for ten minutes." />
      <Field label="What this device is called" value={name} change={setCalled} hint="As in “Van 2”, to know it by when it is lost." />
      <p>
        <button type="submit" class="main wide" disabled={code.replace(/[^0-9a-z]/gi, "").length < 8}>
          Pair
        </button>
      </p>
    </form>
  );
}

function OnPhone({ seen, end }: { seen: DevicesBody; end: (device: string) => Promise<void> }) {
  const own = seen.devices.find(({ id }) => id === seen.asking);
  if (!own) return null;
  return (
    <>
      <h2>Paired with the server</h2>
      <p>
        As {named(own.name)}, since {day(own.paired_at)}. A device that is lost is ended at the server.
      </p>
      <End words="End this pairing" sure="End it: this device needs a new code then" end={() => end(own.id)} />
    </>
  );
}

function AtServer(props: { seen: DevicesBody; attempt: (work: () => Promise<unknown>) => Promise<void>; end: (device: string) => Promise<void> }) {
  const { seen, attempt, end } = props;
  const [made, setMade] = useState<CodeBody | null>(null);
  return (
    <>
      <h2>Phones</h2>
      {seen.lan ? (
        <>
          {made && (
            <>
              <p class="answer">{made.code}</p>
              <p>Pairs one device within {made.minutes} minutes: there under “This device”.</p>
            </>
          )}
          <button type="button" onClick={() => void attempt(async () => setMade(await postJson<CodeBody>("/api/devices/code", {})))}>
            Show a pairing code
          </button>
          <p>
            <a href="/install">How a phone takes the field app in</a>
          </p>
        </>
      ) : (
        <p>Phones cannot reach this server. Started with --lan it serves those on the same network, once they are paired.</p>
      )}
      <ul class="plain rows">
        {seen.devices.map((each) => (
          <li>
            <p>
              {named(each.name)}: {each.revoked_at ? `refused since ${day(each.revoked_at)}` : `last seen ${day(each.seen_at)}`}
            </p>
            {!each.revoked_at && <End words={`End ${named(each.name)}`} sure="End it: what it has not sent yet stays on it" end={() => end(each.id)} />}
          </li>
        ))}
      </ul>
    </>
  );
}

/** Asked twice: it cannot be taken back. */
function End({ words, sure, end }: { words: string; sure: string; end: () => Promise<void> }) {
  const [asked, setAsked] = useState(false);
  if (!asked)
    return (
      <button type="button" onClick={() => setAsked(true)}>
        {words}
      </button>
    );
  return (
    <div class="choices">
      <button type="button" onClick={() => (setAsked(false), void end())}>
        {sure}
      </button>
      <button type="button" onClick={() => setAsked(false)}>
        Keep it
      </button>
    </div>
  );
}

const named = (name: string): string => name || "a device without a name";

const day = (iso: string): string => spoken(new Date(iso), new Date());
