// Alarms in ISA-18.2's terms, what the crew must do now, and the limits in force.

import { h, put, shown } from "./dom.js";

export class Alarms {
  constructor(act) {
    this.act = act;
    this.before = "";
  }

  build(boat, { alarms, crew, limits, tightest }) {
    this.byBit = new Map(boat.alarms.map((alarm) => [alarm.bit, alarm]));
    Object.assign(this, { alarms, crew, limits, tightest });
  }

  show(slow) {
    const text = JSON.stringify([slow.alarms, slow.crew, slow.alarms_known]);
    const known = slow.alarms_known !== false;
    if (text !== this.before) {
      this.before = text;
      const open = new Set([...this.alarms.querySelectorAll("details[open]")].map((one) => one.dataset.bit));
      const list = slow.alarms.map((one) => ({ ...this.byBit.get(one.bit), state: one.state })).sort((a, b) => a.priority - b.priority || a.bit - b.bit);
      this.alarms.replaceChildren(...(list.length ? list.map((one) => this.alarm(one, open)) : [h("p", {}, known ? "No alarm: all are normal." : "Not known: no alarm word is heard.")]));
      this.crew.replaceChildren(...(slow.crew.length ? slow.crew : [known ? "nothing is waited for" : "not known"]).map((words) => h("li", {}, words)));
    }
    const braking = slow.limits.filter((row) => row.what.includes("braking available")).map((row) => `${row.what.split(":")[0]} ${shown(row.value, row.unit, 0)}`);
    put(this.tightest, `Tightest limit: ${slow.tightest}.${braking.length ? ` Braking available: ${braking.join(", ")}` : ""}`);
    const limits = JSON.stringify(slow.limits);
    if (limits !== this.limitsBefore) {
      this.limitsBefore = limits;
      this.limits.replaceChildren(h("table", {},
        h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "limit"), h("th", { scope: "col" }, "now"), h("th", { scope: "col" }, "held by"))),
        h("tbody", {}, slow.limits.map((row) => h("tr", {}, h("td", {}, row.what), h("td", { class: "num" }, shown(row.value, row.unit.split(" ")[0] === "%" ? "%" : row.unit, row.value !== null && Math.abs(row.value) < 10 ? 1 : 0)), h("td", {}, row.rule))))));
    }
  }

  alarm(one, open) {
    return h("div", { class: "alarm", "data-state": one.state, "data-alarm": one.name },
      h("div", { class: "head" }, one.text),
      h("div", { class: "tag" }, `${one.state} · priority ${one.priority} (${one.priority_words})${one.sounds ? "" : ", no sound"}`),
      h("details", { "data-bit": one.bit, open: open.has(String(one.bit)) }, h("summary", {}, "cause, consequence, answer"),
        h("p", {}, `Cause: ${one.cause}.`), h("p", {}, `Consequence: ${one.consequence}.`), h("p", {}, `Answer: ${one.answer}.`), h("p", {}, `Goes: ${one.goes}.`)));
  }
}
