// Small tools for the page: elements, words, numbers.

/** An element with attributes and children. `on...` attributes are listeners. */
export function h(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, String(value));
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  return element;
}

/** An SVG element. */
export function s(tag, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  element.append(...children);
  return element;
}

export const byId = (id) => document.getElementById(id);

/** Writes only what has changed: a page that rewrites itself twenty times a second is read by nobody. */
export function put(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** `lever_pct` -> `lever`; `charge` -> `charge`; `port.motor_c` -> `port motor`. */
export function named(name, unit = "") {
  const endings = { "%": "_pct", W: "_w", N: "_n", A: "_a", V: "_v", degC: "_c", "W/m2": "_w_m2", kn: "_kn", "N m": "_nm", min: "" };
  const ending = endings[unit] ?? "";
  const stem = ending && name.endsWith(ending) ? name.slice(0, -ending.length) : name;
  return stem.replaceAll("_", " ").replaceAll(".", " ").replace(/\bsoc\b/, "SOC");
}

/** A number for people; `unknown` for one that is not known. */
export function shown(value, unit = "", digits = null) {
  if (value === null || value === undefined) return "unknown";
  if (typeof value === "string") return value || "-";
  const size = Math.abs(value);
  const places = digits ?? (size >= 100 ? 0 : size >= 10 ? 1 : 2);
  const text = value.toFixed(places).replace(/^-(0(\.0*)?)$/, "$1");
  return unit ? `${text} ${unit}` : text;
}

/** Seconds as minutes and seconds. */
export function clock(time_s) {
  const hours = Math.floor(time_s / 3600);
  const minutes = Math.floor(time_s / 60) % 60;
  const seconds = (time_s % 60).toFixed(1).padStart(4, "0");
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${seconds}` : `${minutes}:${seconds}`;
}
