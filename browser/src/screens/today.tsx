import { Page } from "../parts/Page";

export default function Today() {
  return (
    <Page title="Today">
      <p class="answer">No jobs on this device yet.</p>
    </Page>
  );
}
