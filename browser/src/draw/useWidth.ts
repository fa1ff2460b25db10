/** How wide an element is [px], so that a drawing is laid out for the room it has and its words keep their size. */
import { useLayoutEffect, useRef, useState } from "preact/hooks";

export function useWidth<T extends HTMLElement>(otherwise = 360): [{ current: T | null }, number] {
  const ref = useRef<T>(null);
  const [width, setWidth] = useState(otherwise);
  useLayoutEffect(() => {
    const element = ref.current;
    if (!element) return;
    const measure = () => {
      if (element.clientWidth > 0) setWidth(element.clientWidth);
    };
    measure();
    const watch = new ResizeObserver(measure);
    watch.observe(element);
    return () => watch.disconnect();
  }, []);
  return [ref, width];
}
