/** What kind of job is it? An emergency needs nothing more than this tap. */
import { useState } from "preact/hooks";
import { makeEmergency, makeJob } from "../journal/jobs";
import { Page } from "../parts/Page";
import { emptyTicket, payloadOf, TicketFields } from "../parts/TicketFields";
import { go } from "../router";

export default function New() {
  const [ticket, setTicket] = useState(emptyTicket);
  const [planned, setPlanned] = useState(false);
  const emergency = async () => go("job", await makeEmergency(new Date()), "read");
  const save = async () => {
    const title = ticket.place.trim() || "Job without a place";
    go("job", await makeJob(title, payloadOf(ticket, {})));
  };
  if (!planned)
    return (
      <Page title="New job" back="#/">
        <p class="answer">Is it an emergency?</p>
        <div class="sheet stack">
          <button type="button" class="main wide" onClick={() => void emergency()}>
            Emergency: read now, name it later
          </button>
          <button type="button" class="wide" onClick={() => setPlanned(true)}>
            No: write down the ticket
          </button>
          <a class="button wide" href="#/bring">
            Bring in a job folder or a log
          </a>
        </div>
      </Page>
    );
  return (
    <Page
      title="New job"
      back="#/"
      foot={
        <button type="button" class="main wide" onClick={() => void save()}>
          Make the job
        </button>
      }
    >
      <p class="answer">What was asked for?</p>
      <p class="quiet">Leave blank what you do not know. All of it can be written down later.</p>
      <TicketFields value={ticket} change={setTicket} />
    </Page>
  );
}
