import "./styles.css";
import { render, type ComponentType } from "preact";
import { useEffect, useState } from "preact/hooks";
import { keepSending, useSetting } from "./journal";
import { loaded, usePlace, type ScreenProps } from "./router";

function App() {
  const place = usePlace();
  const [shown, setShown] = useState<{ screen: string; Screen: ComponentType<ScreenProps> } | null>(null);
  const [missing, setMissing] = useState(false);
  const [tries, setTries] = useState(0);
  const [light] = useSetting("light", "auto");
  useEffect(() => void (document.documentElement.dataset.light = light ?? "auto"), [light]);
  useEffect(() => {
    let wanted = true;
    setMissing(false);
    loaded(place.screen).then(
      (Screen) => wanted && setShown({ screen: place.screen, Screen }),
      () => wanted && setMissing(true),
    );
    scrollTo(0, 0);
    return () => void (wanted = false);
  }, [place.screen, place.job, tries]);
  useEffect(() => {
    const again = () => setTries((n) => n + 1);
    addEventListener("online", again);
    return () => removeEventListener("online", again);
  }, []);
  const wrong = useFault();
  if (!shown || shown.screen !== place.screen) return <p class="loading">{missing ? NOT_HERE : "…"}</p>;
  const { Screen } = shown;
  return (
    <>
      {wrong && (
        <p class="alarm" role="alert">
          {wrong}
        </p>
      )}
      <Screen key={`${place.job}/${place.screen}`} job={place.job} rest={place.rest} />
    </>
  );
}

const NOT_HERE = "This part of the page is not on this device yet, and there is no connection. It opens when that is back; what was written down is kept.";

/** What nobody caught, a full device above all: the person has to know that it was not kept. */
function useFault(): string {
  const [wrong, setWrong] = useState("");
  useEffect(() => {
    const failed = ({ reason }: PromiseRejectionEvent) => {
      const full = reason instanceof DOMException && reason.name === "QuotaExceededError";
      setWrong(full ? "Not kept: this device is full. Make room, then enter it again." : `Not done: ${String(reason)}`);
    };
    addEventListener("unhandledrejection", failed);
    return () => removeEventListener("unhandledrejection", failed);
  }, []);
  return wrong;
}

// Another version of the page was laid in while this one was open: what it loads next is gone.
addEventListener("vite:preloadError", (event) => {
  event.preventDefault();
  const last = Number(sessionStorage.getItem("reloaded") ?? 0);
  sessionStorage.setItem("reloaded", String(Date.now()));
  // With no connection and nothing kept yet a reload would leave nothing at all.
  if (Date.now() - last > 10_000 && (navigator.onLine || navigator.serviceWorker?.controller)) location.reload();
});

const root = document.getElementById("app")!;
root.replaceChildren();
render(<App />, root);
keepSending();

if (import.meta.env.PROD && "serviceWorker" in navigator)
  navigator.serviceWorker.register("/sw.js").catch((reason: unknown) => console.warn("not kept for offline:", reason));
