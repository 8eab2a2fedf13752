// Colours of the 3-D picture, taken from the page's style so that the hands look as they do on the chart.
import { Color } from "three";

export interface Palette {
  paper: Color;
  ink: Color;
  soft: Color;
  hands: Color[];
  arm: Color;
  tool: Color;
  holder: Color;
  obstacle: Color;
  warn: Color;
  touch: Color;
  parts: Color[];
}

export function palette(): Palette {
  const of = resolver();
  return {
    paper: of("cell"), ink: of("ink"), soft: of("soft"), hands: [of("left-body"), of("right-body")], arm: of("arm-body"),
    tool: of("tool-body"), holder: of("holder-body"), obstacle: of("obstacle-body"), warn: of("warn"), touch: of("touch"),
    parts: [of("part-1"), of("part-2"), of("part-3"), of("part-4")],
  };
}

/** The browser works out which of light and dark a colour is only where it is used. */
function resolver(): (name: string) => Color {
  const probe = document.createElement("span");
  probe.hidden = true;
  document.body.append(probe);
  queueMicrotask(() => probe.remove());
  return (name) => {
    probe.style.color = `var(--${name})`;
    return new Color(getComputedStyle(probe).color);
  };
}
