/** One page to be printed and filled in by pencil, in the order of the sheet; typed in later with the true times. */
import "../sheets/sheets.css";
import { Page } from "../parts/Page";

const COLUMNS: readonly (readonly [string, string])[] = [
  ["No.", ""],
  ["Time", ""],
  ["Place", "from … toward …, how far"],
  ["Null from the peak", "same / hand / boot / farther, or measured"],
  ["Side", "L or R"],
  ["Depth", "foot on the ground"],
  ["On a 12 in (0.30 m) block", "depth"],
  ["Current", "mA"],
  ["Half points", "left / right"],
  ["Bearing", "either way"],
];
const ROWS = 14;

export default function Paper() {
  return (
    <Page
      title="Paper sheet"
      back="#/"
      foot={
        <button type="button" class="main wide" onClick={() => print()}>
          Print it
        </button>
      }
    >
      <section class="paper">
        <p>
          <b>Readings</b>, in the order of the reading sheet. Units: ft and in / m (strike one out). Blank means not taken. Job ______________ Date ______________ By ______________
        </p>
        <p>
          Line ______________ Utility ______________ Hook-up: direct / clamp / induction / passive, at ______________ Frequency ______________ Receiver ______________ Facing along the line toward
          ______________
        </p>
        <div class="wide-table" tabIndex={0} role="region" aria-label="Rows of the sheet">
        <table>
          <thead>
            <tr>
              {COLUMNS.map(([name, quiet]) => (
                <th scope="col">
                  {name}
                  {quiet && <div>{quiet}</div>}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {Array.from({ length: ROWS }, (_, row) => (
              <tr>
                {COLUMNS.map((_, column) => (
                  <td>{column === 0 ? row + 1 : ""}</td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
        </div>
        <p>From the side: where I stood, facing, distance, depth: ____________________________________________________________</p>
        <p>Test hole: seen / not there, to the top, thickness, proved to be: ____________________________________________________________</p>
        <p>Sonde: depth, null ahead, null behind: ____________________________________________________________</p>
        <p>A depth from the surface is an estimate, never a licence to dig by machine. Left and right are as you face along the line. Typed in later, each reading takes its time from this sheet.</p>
      </section>
    </Page>
  );
}
