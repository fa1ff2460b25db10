/** Asking the server. A server that is gone and a server that refuses are told apart. */

/** No answer at all: no signal, or the server is not running. */
export class Gone extends Error {}

/** The server answered, and the answer is no. `findings` say where and what. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    what: string,
    readonly findings: { where: string; what: string }[] = [],
  ) {
    super(what);
  }
}

const PATIENCE_MS = 20_000;

export async function getJson<T>(path: string): Promise<T> {
  return (await asked(path, {})).json() as Promise<T>;
}

export async function postJson<T>(path: string, body: unknown): Promise<T> {
  const init = { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) };
  return (await asked(path, init)).json() as Promise<T>;
}

export async function asked(path: string, init: RequestInit, patienceMs = PATIENCE_MS): Promise<Response> {
  let response: Response;
  try {
    response = await fetch(path, { ...init, cache: "no-store", signal: AbortSignal.timeout(patienceMs) });
  } catch (reason) {
    throw new Gone(String(reason));
  }
  if (response.ok) return response;
  if ([502, 503, 504].includes(response.status)) throw new Gone(`the server is not ready (${response.status})`);
  const said = (await response.json().catch(() => null)) as { error?: { what?: string; findings?: [] } } | null;
  throw new Refused(response.status, said?.error?.what ?? `the server says ${response.status}`, said?.error?.findings);
}
