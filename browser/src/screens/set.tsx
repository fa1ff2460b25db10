/** What this device is called and how it shows things. */
import { useKept, useSetting, useWaiting, waiting, deviceId } from "../journal";
import { Devices, PairFirst, usePairing } from "../parts/Devices";
import { Field } from "../parts/Field";
import { Page } from "../parts/Page";
import { waitingWords } from "../words/times";

export default function Set() {
  const [name, setName] = useSetting("name", "");
  const [pace, setPace] = useSetting("pace", "0.75 m");
  const count = useWaiting().length;
  const device = useKept(deviceId, []);
  const kept = useKept(async () => (await navigator.storage?.persisted?.()) ?? false, []);
  const pairing = usePairing();
  if (name === null || pace === null) return null;
  return (
    <Page title="This device" back="#/">
      <PairFirst pairing={pairing} />
      <Field label="Your name, as it stands beside what you write down" value={name} change={setName} />
      <Picked name="units" label="Lengths" otherwise="ft-in" answers={[["ft-in", "Feet and inches"], ["m", "Metres"]]} />
      <Picked
        name="light"
        label="View"
        otherwise="auto"
        answers={[["auto", "As this device"], ["day", "Day"], ["night", "Night"]]}
      />
      <Field label="One of your paces" value={pace} change={setPace} hint="Walk ten and measure; 0.75 m is common." />
      <h2>What waits here</h2>
      <p>{count === 0 ? "Nothing: all that was written down here is on the server." : `${waitingWords(count)}.`}</p>
      {count > 0 && (
        <p>
          <button type="button" onClick={() => void saveWaiting()}>
            Save it as a file
          </button>
        </p>
      )}
      <p class="quiet">
        {kept ? "This browser keeps it until it is sent." : "This browser may clear it when the device is full; install the page to have it kept."}
      </p>
      <Devices pairing={pairing} />
      {device && <p class="quiet">Device {device}</p>}
    </Page>
  );
}

function Picked(props: { name: string; label: string; otherwise: string; answers: [string, string][] }) {
  const [value, set] = useSetting(props.name, props.otherwise);
  return (
    <fieldset>
      <legend>{props.label}</legend>
      <div class="choices">
        {props.answers.map(([held, words]) => (
          <button type="button" aria-pressed={value === held} onClick={() => set(held)}>
            {words}
          </button>
        ))}
      </div>
    </fieldset>
  );
}

/** The facts that were not sent, as they travel, for a server that cannot be reached or does not take them. */
async function saveWaiting(): Promise<void> {
  const url = URL.createObjectURL(new Blob([JSON.stringify(await waiting(), null, 1)], { type: "application/json" }));
  const link = Object.assign(document.createElement("a"), { href: url, download: "plumbmark-waiting.json" });
  link.click();
  URL.revokeObjectURL(url);
}
