// The timeline: what happened, newest first; it can be scrolled, filtered and frozen.

import { byId, clock, h, put } from "./dom.js";

const KEPT = 3000;
const SHOWN = 400;
const LATELY = 6;

export class Timeline {
  constructor() {
    this.events = [];
    this.frozen = false;
    this.last = 0;
    this.kind = "";
    this.words = "";
  }

  build(_boat, place) {
    this.list = h("ol", { class: "events", id: "events" });
    this.more = h("span", { role: "status" });
    const freeze = h("button", { type: "button", id: "freeze", "aria-pressed": "false", onclick: () => {
      this.frozen = !this.frozen;
      freeze.setAttribute("aria-pressed", String(this.frozen));
      this.draw();
    } }, "freeze timeline");
    const kinds = ["", "mode", "trip", "alarm", "gone", "refusal", "action", "fault", "power up"];
    const kind = h("select", { "aria-label": "kind of event", onchange: () => { this.kind = kind.value; this.draw(true); } },
      kinds.map((one) => h("option", { value: one }, one || "every kind")));
    const words = h("input", { type: "search", "aria-label": "with these words", placeholder: "words", oninput: () => { this.words = words.value.toLowerCase(); this.draw(true); } });
    place.append(h("div", { class: "row" }, freeze, kind, words, this.more),
      h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "events, newest first" }, this.list));
  }

  take(events) {
    const fresh = events.filter((event) => event.n > this.last);
    if (!fresh.length) return;
    this.last = fresh.at(-1).n;
    this.lately(fresh);
    this.events.push(...fresh);
    if (this.events.length > KEPT) this.events.splice(0, this.events.length - KEPT);
    if (this.frozen) put(this.more, `frozen; ${this.events.length - this.drawn} newer`);
    else this.draw();
  }

  /** The newest few beside the alarms, whatever view is open. */
  lately(fresh) {
    const place = byId("lately");
    for (const event of fresh.slice(-LATELY)) {
      place.prepend(h("li", { "data-kind": event.kind }, h("b", {}, `${clock(event.time_s)} ${event.kind}`), ` ${event.subject === "boat" ? "" : `${event.subject}: `}${event.text}`));
    }
    while (place.children.length > LATELY) place.lastElementChild.remove();
  }

  draw(always = false) {
    if (this.frozen && !always && this.drawn !== undefined) { put(this.more, `frozen; ${this.events.length - this.drawn} newer`); return; }
    if (!this.frozen || this.drawn === undefined) this.drawn = this.events.length;
    put(this.more, this.frozen ? `frozen; ${this.events.length - this.drawn} newer` : "");
    const fits = this.events.slice(0, this.drawn).filter((event) => (!this.kind || event.kind === this.kind) && (!this.words || `${event.subject} ${event.text}`.toLowerCase().includes(this.words)));
    this.list.replaceChildren(...fits.slice(-SHOWN).reverse().map((event) => h("li", { "data-kind": event.kind },
      h("span", {}, clock(event.time_s)), h("span", { class: "k" }, event.kind), h("span", {}, event.subject), h("span", {}, event.text))));
  }
}
