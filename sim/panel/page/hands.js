// The controls, built from the catalogue of targets: nothing is listed here by name but where it stands on the page.

import { h, named, put, shown } from "./dom.js";

const SEND_EVERY_MS = 100;
const STEP_PCT = 10;

export class Hands {
  /** `act(target, value)` does it. */
  constructor(wire, act, say) {
    this.wire = wire;
    this.act = act;
    this.say = say;
    this.followers = [];
    wire.dropListeners = [];
  }

  /** What the boat says where each control stands. */
  follow(hands) {
    for (const follow of this.followers) follow(hands);
  }

  /** The control of one target, by the kind of value that it takes. */
  control(target, label) {
    const name = label ?? named(target.name.split(".").slice(1).join("."), target.unit);
    if (target.hold) return this.hold(target, name);
    if (target.button) return this.press(target, name);
    if (target.contact) return this.toggle(target, name);
    if (target.words.length) return this.choices(target, name);
    return this.across(target, name);
  }

  press(target, name) {
    return h("button", { type: "button", "data-target": target.name, onclick: () => this.act(target.name, "press") }, name);
  }

  toggle(target, name) {
    const word = h("span", {}, "off");
    const button = h("button", {
      type: "button", "data-target": target.name, "aria-pressed": "false",
      onclick: () => this.act(target.name, button.getAttribute("aria-pressed") !== "true"),
    }, `${name}: `, word);
    this.followers.push((hands) => {
      const on = hands[target.name] === true;
      if (button.getAttribute("aria-pressed") !== String(on)) button.setAttribute("aria-pressed", String(on));
      put(word, on ? "on" : "off");
    });
    return button;
  }

  choices(target, name) {
    const buttons = target.words.map((word) => h("button", {
      type: "button", "data-target": target.name, "data-value": word, "aria-pressed": "false",
      onclick: () => this.act(target.name, word),
    }, word.replaceAll("_", " ")));
    this.followers.push((hands) => {
      for (const button of buttons) {
        const on = String(hands[target.name] === button.dataset.value);
        if (button.getAttribute("aria-pressed") !== on) button.setAttribute("aria-pressed", on);
      }
    });
    const more = target.number ? [this.number(target, `${name}, as a number`)] : [];
    return h("div", { class: "group", role: "group", "aria-label": `${target.name.split(".")[0]} ${name}` },
      h("div", { class: "name" }, name), h("div", { class: "choices" }, buttons), more);
  }

  /** A number that is typed and set. */
  number(target, name) {
    const field = h("input", { type: "number", min: target.low, max: target.high, step: "any", "aria-label": `${name}, ${target.unit}`, "data-field": target.name });
    const set = () => { if (field.value !== "") this.act(target.name, Number(field.value)); };
    field.addEventListener("keydown", (event) => { if (event.key === "Enter") set(); });
    return h("div", { class: "row" }, field, ` ${target.unit}`, h("button", { type: "button", onclick: set, "aria-label": `set ${name}` }, "set"));
  }

  /** A slider; while a hand is on it, it does not follow the boat. */
  slider(target, name, step) {
    const input = h("input", {
      type: "range", min: target.low, max: target.high, step, value: 0, "data-target": target.name, "aria-label": name,
    });
    let sent_ms = 0, waiting = 0, touched_ms = -1e9;
    const send = () => { sent_ms = performance.now(); waiting = 0; this.act(target.name, Number(input.value)); };
    input.addEventListener("input", () => {
      touched_ms = performance.now();
      clearTimeout(waiting);
      const left_ms = sent_ms + SEND_EVERY_MS - touched_ms;
      if (left_ms <= 0) send(); else waiting = setTimeout(send, left_ms);
    });
    this.followers.push((hands) => {
      const at = hands[target.name];
      if (performance.now() - touched_ms > 500 && !waiting && typeof at === "number" && Number(input.value) !== at) input.value = at;
    });
    return input;
  }

  across(target, name) {
    const span = target.high - target.low;
    const out = h("output", {});
    const input = this.slider(target, `${target.name.split(".")[0]} ${name}`, span > 2000 ? 100 : span > 500 ? 10 : 5);
    this.followers.push((hands) => put(out, shown(hands[target.name], target.unit, 0)));
    return h("div", { class: "group across" }, h("div", { class: "name" }, `${name} `, out), input);
  }

  lever(target, shaft) {
    const out = h("output", { class: "at" });
    const input = this.slider(target, `${shaft} lever, percent, ahead above zero`, 5);
    input.setAttribute("aria-orientation", "vertical");
    this.followers.push((hands) => {
      const at = hands[target.name];
      const words = at === 0 ? "neutral" : `${Math.abs(at).toFixed(0)} % ${at > 0 ? "ahead" : "astern"}`;
      put(out, words);
      if (input.getAttribute("aria-valuetext") !== words) input.setAttribute("aria-valuetext", words);
    });
    const neutral = h("button", { type: "button", "data-neutral": shaft, onclick: () => { input.value = 0; this.act(target.name, 0); } }, "neutral");
    return h("div", { class: "lever" }, input, h("div", {}, h("div", { class: "name" }, "lever"), out, neutral));
  }

  /** Held as long as a finger, a key, and the page's heartbeat. Whatever ends the hold is a release. */
  hold(target, name) {
    const word = h("span", {}, "not held");
    const button = h("button", { type: "button", class: "hold", "data-target": target.name, "aria-pressed": "false" },
      "press and hold: hand on the handset", h("br"), word);
    const down = () => { if (this.wire.inControl) this.wire.hold(target.name); };
    const up = () => this.wire.drop(target.name);
    button.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      // a finger is captured by what it touches first: given free, it leaves the button when it slides off
      if (button.hasPointerCapture(event.pointerId)) button.releasePointerCapture(event.pointerId);
      button.focus();
      down();
    });
    for (const end of ["pointerup", "pointerleave", "pointercancel", "blur", "contextmenu"]) button.addEventListener(end, up);
    const nudge = (step) => {
      if (!this.wire.held.has(target.name)) return;
      const thrust = Math.max(-100, Math.min(100, (this.thrust ?? 0) + step));
      this.thrust = thrust;
      this.act("handset.thrust_pct", thrust);
    };
    button.addEventListener("wheel", (event) => { if (this.wire.held.has(target.name)) { event.preventDefault(); nudge(event.deltaY < 0 ? STEP_PCT : -STEP_PCT); } }, { passive: false });
    button.addEventListener("keydown", (event) => {
      const step = { ArrowUp: STEP_PCT, ArrowDown: -STEP_PCT }[event.key];
      if (step) { event.preventDefault(); nudge(step); return; }
      if (event.key !== " " && event.key !== "Enter") return;
      event.preventDefault();
      if (!event.repeat) down();
    });
    button.addEventListener("keyup", (event) => { if (event.key === " " || event.key === "Enter") up(); });
    this.followers.push((hands) => {
      const on = String(hands[target.name] === true);
      if (button.getAttribute("aria-pressed") !== on) button.setAttribute("aria-pressed", on);
      put(word, on === "true" ? "HELD; arrow keys up and down, or the wheel, set its thrust" : "let go");
      this.thrust = hands["handset.thrust_pct"];
    });
    return button;
  }

  /** Where everything stands. */
  build(boat, place) {
    const fitted = boat.targets.filter((target) => !target.lacks);
    const by = (first) => fitted.filter((target) => target.name.split(".")[0] === first);
    const helm = by("helm");
    const buttons = helm.filter((target) => target.button).map((target) => this.press(target, target.label));
    const switches = helm.filter((target) => !target.button && target.name !== "helm.emergency_stop").map((target) => this.control(target));
    const release = helm.find((target) => target.name === "helm.emergency_stop");
    place.append(h("h3", {}, "Helm"), h("div", { class: "helm" }, buttons));
    const shafts = boat.shafts.map((shaft) => {
      const [lever, ...rest] = by(shaft);
      return h("div", { class: "shaft" }, h("h3", {}, shaft), this.lever(lever, shaft), rest.map((target) => this.control(target)));
    });
    place.append(h("div", { class: "pair" }, shafts));
    const handset = by("handset");
    if (handset.length) {
      const order = handset.slice().sort((a, b) => Number(b.hold) - Number(a.hold));
      place.append(h("h3", {}, "Handset, press and hold"), ...order.map((target) => this.control(target)));
    }
    place.append(h("h3", {}, "Switches"), h("div", { class: "helm" }, switches, release ? this.toggle(release, "emergency stop") : []));
  }
}
