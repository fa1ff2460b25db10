import "./styles.css";
import { render } from "preact";
import { useEffect, useState } from "preact/hooks";
import { loaded, usePlace, type ScreenProps } from "./router";
import type { ComponentType } from "preact";

function App() {
  const place = usePlace();
  const [shown, setShown] = useState<{ screen: string; Screen: ComponentType<ScreenProps> } | null>(null);
  useEffect(() => {
    let wanted = true;
    void loaded(place.screen).then((Screen) => wanted && setShown({ screen: place.screen, Screen }));
    return () => void (wanted = false);
  }, [place.screen]);
  if (!shown || shown.screen !== place.screen) return <p class="loading">…</p>;
  const { Screen } = shown;
  return <Screen key={`${place.job}/${place.screen}`} job={place.job} rest={place.rest} />;
}

const root = document.getElementById("app")!;
root.replaceChildren();
render(<App />, root);

if (import.meta.env.PROD && "serviceWorker" in navigator) {
  navigator.serviceWorker.register("/sw.js").catch((reason: unknown) => console.warn("not kept for offline:", reason));
}
