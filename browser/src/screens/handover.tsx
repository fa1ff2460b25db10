/** Is everyone told, can it stand? The record first; marks, files and who was told have a page each. */
import "../handover/handover.css";
import { useEffect } from "preact/hooks";
import { useScreen } from "../api/useScreen";
import type { HandoverScreen, Shown } from "../api/screens";
import { Files } from "../handover/Files";
import { Marks } from "../handover/Marks";
import { Readings } from "../handover/Readings";
import { Record } from "../handover/Record";
import { Said } from "../handover/Said";
import { Told } from "../handover/Told";
import { useJob } from "../journal";
import type { ScreenProps } from "../router";

const PARTS = { "": Record, marks: Marks, files: Files, said: Said, told: Told, readings: Readings };

export default function Handover({ job, rest }: ScreenProps) {
  const folded = useJob(job);
  const seen = useScreen<Shown<HandoverScreen>>(`/api/jobs/${encodeURIComponent(job)}/screens/handover`, job);
  const asked = rest[0] ?? "";
  const ready = folded !== null && seen.ready;
  useEffect(() => {
    const part = asked && !Object.hasOwn(PARTS, asked) ? document.getElementById(asked) : null;
    if (part) part.scrollIntoView();
    else scrollTo(0, 0);
  }, [asked, ready]);
  if (!folded || !seen.ready) return <p class="loading">…</p>;
  const Part = Object.hasOwn(PARTS, asked) ? PARTS[asked as keyof typeof PARTS] : Record;
  return <Part folded={folded} seen={seen} screen={seen.screen?.screen ?? null} />;
}
