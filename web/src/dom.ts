// Making elements. Text always goes in as text: nothing from a record is ever read as HTML.

type Child = Node | string | null | undefined | false;
type Attributes = Record<string, string | number | boolean | null | undefined | ((event: never) => void)>;

/** An HTML element. Attributes that begin with "on" are listeners; null, undefined and false are left out. */
export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  return filled(document.createElement(tag), attributes, children);
}

/** The same for SVG. */
export function s<K extends keyof SVGElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): SVGElementTagNameMap[K] {
  return filled(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);
}

function filled<E extends Element>(element: E, attributes: Attributes, children: Child[]): E {
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") element.addEventListener(name.slice(2), value as (event: Event) => void);
    else if (value !== null && value !== undefined && value !== false)
      element.setAttribute(name, value === true ? "" : String(value));
  }
  for (const child of children) if (child) element.append(child);
  return element;
}

/** A toggle that says so. */
export function toggle(label: string, title: string, pressed: boolean, changed: (on: boolean) => void): HTMLButtonElement {
  const button = h("button", { type: "button", class: "toggle", title, "aria-pressed": String(pressed) }, label);
  button.addEventListener("click", () => {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    changed(on);
  });
  return button;
}

/** Kept for the next visit, where the browser lets us. */
export function remembered(key: string): string | null {
  try {
    return localStorage.getItem(`handfast.${key}`);
  } catch {
    return null;
  }
}

export function remember(key: string, value: string): void {
  try {
    localStorage.setItem(`handfast.${key}`, value);
  } catch {
    // A page from disk, or storage switched off: it is then only for this visit.
  }
}
