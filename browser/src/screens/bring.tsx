/** Bring in a job folder or zip. */
import { useState } from "preact/hooks";
import { asked, Gone, Refused } from "../api/client";
import { send } from "../journal";
import { Page } from "../parts/Page";
import { go } from "../router";

type Said = { what: string; findings: { where: string; what: string }[] };

export default function Bring() {
  const [said, setSaid] = useState<Said | null>(null);
  const [busy, setBusy] = useState(false);
  const take = async (files: Iterable<File> | null | undefined) => {
    const form = new FormData();
    for (const file of files ?? []) form.append("files", file, file.webkitRelativePath || file.name);
    if (!form.has("files")) return;
    setBusy(true);
    try {
      const brought = (await (await asked("/api/import", { method: "POST", body: form })).json()) as { job: string };
      send();
      go("job", brought.job);
    } catch (reason) {
      const gone = reason instanceof Gone;
      const what = gone ? "The server is not reached; bring the files in when it is." : (reason as Error).message;
      setSaid({ what, findings: reason instanceof Refused ? reason.findings : [] });
    }
    setBusy(false);
  };
  return (
    <Page title="Bring in" back="#/">
      <p class="answer">{busy ? "Reading the files …" : "Drop a job folder or its zip here."}</p>
      {said && (
        <div class="notice" role="alert">
          <p>{said.what}</p>
          <ul>
            {said.findings.map(({ where, what }) => (
              <li>
                <strong>{where}</strong> {what}
              </li>
            ))}
          </ul>
        </div>
      )}
      <div
        class="stack drop"
        onDragOver={(event) => event.preventDefault()}
        onDrop={(event) => {
          event.preventDefault();
          void dropped(event.dataTransfer).then(take);
        }}
      >
        <Pick label="A zip, or the files of a folder" take={take} />
        <Pick label="A folder" folder take={take} />
      </div>
    </Page>
  );
}

function Pick({ label, folder = false, take }: { label: string; folder?: boolean; take: (files: FileList | null) => void }) {
  return (
    <label class="field">
      <span>{label}</span>
      <input
        type="file"
        multiple
        ref={(input) => void (input && (input.webkitdirectory = folder))}
        onChange={(event) => take(event.currentTarget.files)}
      />
    </label>
  );
}

/** The files that were dropped, those inside a folder too, each named by its path in it. */
async function dropped(transfer: DataTransfer | null): Promise<File[]> {
  const entries = [...(transfer?.items ?? [])].map((item) => item.webkitGetAsEntry()).filter((entry) => entry !== null);
  return (await Promise.all(entries.map(filesOf))).flat();
}

async function filesOf(entry: FileSystemEntry): Promise<File[]> {
  if (entry.isFile) {
    const file = await new Promise<File>((done, failed) => (entry as FileSystemFileEntry).file(done, failed));
    return [new File([file], entry.fullPath.replace(/^\//, ""), { type: file.type })];
  }
  const reader = (entry as FileSystemDirectoryEntry).createReader();
  const all: File[] = [];
  for (;;) {
    const some = await new Promise<FileSystemEntry[]>((done, failed) => reader.readEntries(done, failed));
    if (some.length === 0) return all; // a reader gives at most 100 at a time
    all.push(...(await Promise.all(some.map(filesOf))).flat());
  }
}
