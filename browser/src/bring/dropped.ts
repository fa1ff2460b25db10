/** Files as they are dropped or chosen. */

/** The files that were dropped, those inside a folder too, each named by its path in it. */
export async function dropped(transfer: DataTransfer | null): Promise<File[]> {
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

export const pathOf = (file: File): string => file.webkitRelativePath || file.name;

/** Whether files are a job: a zip alone, or with a `job.toml` among them. Else each is a log. */
export function isJob(paths: readonly string[]): boolean {
  return (paths.length === 1 && /\.zip$/i.test(paths[0]!)) || paths.some((path) => /(^|\/)job\.toml$/.test(path));
}
