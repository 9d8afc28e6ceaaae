// Why: what is missing for what may be asked, the row that fired last, first-out, and every condition in words.

import { clock, h } from "./dom.js";

const NOT_ON_THE_BUS = "A supervisor elsewhere does not say this on the bus.";

export class Why {
  build(boat, place) {
    this.boat = boat;
    this.explain = h("div", { id: "explain" });
    this.limits = h("div", { id: "limits" });
    this.rows = h("div", {});
    this.firstOut = h("div", {});
    this.words = h("div", { class: "two" });
    place.append(h("h3", {}, "What is missing for what may be asked"), this.explain, h("div", { class: "two" },
      h("div", {}, h("h3", {}, "Row of the mode tables that fired last"), this.rows),
      h("div", {}, h("h3", {}, "First out: what tripped, newest first"), this.firstOut)),
      h("h3", {}, "Conditions, as the rules have them now"), this.words);
    place.prepend(h("h3", {}, "Limits in force"), this.limits);
    this.before = {};
    this.place = place;
  }

  changed(name, value) {
    const text = JSON.stringify(value);
    if (this.before[name] === text) return false;
    this.before[name] = text;
    return true;
  }

  show(slow) {
    if (!slow.explain) {
      this.explain.replaceChildren(h("p", {}, NOT_ON_THE_BUS));
      for (const place of [this.rows, this.words]) place.replaceChildren(h("p", {}, NOT_ON_THE_BUS));
      this.showFirst(slow);
      return;
    }
    if (this.changed("explain", slow.explain)) {
      this.explain.replaceChildren(h("table", {}, h("thead", {}, h("tr", {}, ["who", "asked for", "missing"].map((word) => h("th", { scope: "col" }, word)))),
        h("tbody", {}, slow.explain.map((row) => h("tr", { "data-subject": row.subject, "data-goal": row.goal }, h("td", {}, row.subject), h("td", {}, row.goal), h("td", {}, row.missing.length ? row.missing.join("; ") : "nothing is missing"))))));
    }
    if (this.changed("rows", slow.rows)) {
      this.rows.replaceChildren(...(slow.rows.length ? slow.rows.map((row) => h("div", { class: "group" },
        h("b", {}, `${row.subject}: ${row.source} -> ${row.dest}`), ` at ${clock(row.time_s)}: ${row.text}`,
        row.because.length ? h("p", { class: "soft" }, `row ${row.row}: ${row.because.join("; ")}`) : null)) : [h("p", {}, "none since power-up")]));
    }
    this.showFirst(slow);
    this.showWords(slow);
  }

  showFirst(slow) {
    if (this.changed("first", slow.first_out)) {
      this.firstOut.replaceChildren(...(slow.first_out.length ? slow.first_out.map((one) => h("div", { class: "group" },
        h("b", {}, `${one.subject}: ${one.first_out || "see text"}`), `${one.time_s === null ? "" : ` at ${clock(one.time_s)}`}: ${one.text}`)) : [h("p", {}, slow.explain ? "no trip since power-up" : "none is heard")]));
    }
  }

  showWords(slow) {
    if (this.place.offsetParent !== null && this.changed("words", slow.words)) {
      const { conditions, shafts } = this.boat;
      const parts = [["boat", conditions.boat, slow.words.boat]];
      shafts.forEach((shaft, index) => parts.push([`${shaft} shaft`, conditions.shaft, slow.words.shaft[index]], [`${shaft}, permits`, conditions.permit, slow.words.permit[index]]));
      this.words.replaceChildren(...parts.map(([title, rows, hex]) => {
        const word = BigInt(`0x${hex}`);
        return h("details", { open: title === "boat" }, h("summary", {}, title), h("ul", { class: "bits" }, rows.map((row) => {
          const on = (word >> BigInt(row.bit)) & 1n;
          return h("li", {}, on ? "■ " : "□ ", on ? h("b", {}, row.set) : row.clear);
        })));
      }));
    }
  }
}
