import "./styles.css";
import { render, type ComponentType } from "preact";
import { useEffect, useState } from "preact/hooks";
import { keepSending, useSetting } from "./journal";
import { loaded, usePlace, type ScreenProps } from "./router";

function App() {
  const place = usePlace();
  const [shown, setShown] = useState<{ screen: string; Screen: ComponentType<ScreenProps> } | null>(null);
  const [light] = useSetting("light", "auto");
  useEffect(() => void (document.documentElement.dataset.light = light ?? "auto"), [light]);
  useEffect(() => {
    let wanted = true;
    void loaded(place.screen).then((Screen) => wanted && setShown({ screen: place.screen, Screen }));
    scrollTo(0, 0);
    return () => void (wanted = false);
  }, [place.screen, place.job]);
  if (!shown || shown.screen !== place.screen) return <p class="loading">…</p>;
  const { Screen } = shown;
  return <Screen key={`${place.job}/${place.screen}`} job={place.job} rest={place.rest} />;
}

const root = document.getElementById("app")!;
root.replaceChildren();
render(<App />, root);
keepSending();

if (import.meta.env.PROD && "serviceWorker" in navigator)
  navigator.serviceWorker.register("/sw.js").catch((reason: unknown) => console.warn("not kept for offline:", reason));
