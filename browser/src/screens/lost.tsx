import { Page } from "../parts/Page";

export default function Lost() {
  return (
    <Page title="Not here" back="#/">
      <p class="answer">This address leads nowhere.</p>
      <p>
        <a class="button" href="#/">
          To today’s jobs
        </a>
      </p>
    </Page>
  );
}
