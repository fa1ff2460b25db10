/** Facts made on this device, their chain, and what a job holds by them. */
export { FactError, type Json } from "./canonical";
export { setSetting, setting } from "./db";
export type { Fact, FactKind, Draft } from "./fact";
export { useJob, useJobs, useKept, useSetting, useSync, useWaiting, jobNow } from "./hooks";
export { deviceId, keepFile, ownDevice, record, recordAll } from "./record";
export { keepSending, send, sync, syncState, waiting } from "./sync";
