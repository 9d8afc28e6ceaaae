// The drawing of each shaft line. Words come with the facts; a part that passes no torque is drawn apart, one that turns
// has a moving line, and what power does stands beside it.

import { h, put, s } from "./dom.js";

const MIDDLE = 60;

/** The body of each part, round the axle at MIDDLE in a box of 100 by 86 from x = 10 on; axles run beyond it. */
const BODIES = {
  engine: () => [s("rect", { class: "body", x: 22, y: 34, width: 76, height: 46 }), s("path", { d: "M34 34V22h14v12M53 34V22h14v12M72 34V22h14v12" })],
  gearbox: () => [s("path", { class: "body", d: "M24 40h26l8-8h22v48H24z" })],
  machine: () => [s("circle", { class: "body", cx: 60, cy: MIDDLE, r: 23 }), s("text", { x: 60, y: MIDDLE + 6 }, "M/G")],
  clutch: () => [],
  lock: () => [],
  propeller: () => [s("path", { class: "body", d: `M60 ${MIDDLE - 4}c-16 -24 -12 -34 0 -38c12 6 12 18 0 38z` }), s("path", { class: "body", d: `M60 ${MIDDLE + 4}c12 10 10 14 0 18c-10 -4 -10 -10 0 -18z` }), s("circle", { class: "body", cx: 60, cy: MIDDLE, r: 6 })],
};

const AXLES = { engine: [98, 700], gearbox: [-500, 700], machine: [-500, 700], clutch: [-500, 700], lock: [-500, 700], propeller: [-500, 60] };

class Part {
  constructor(name) {
    this.name = name;
    const [from, to] = AXLES[name];
    this.axle = s("path", { class: "axle", d: `M${from} ${MIDDLE}H${to}` });
    this.turn = s("path", { class: "turn off", d: `M${from} ${MIDDLE}H${to}` });
    this.gap = s("path", { class: "off", d: `M54 ${MIDDLE - 20}v40M66 ${MIDDLE - 20}v40` });
    this.extra = name === "lock" ? s("path", { class: "block off", d: `M44 ${MIDDLE - 26}h32v18h-32zM44 ${MIDDLE + 8}h32v16h-32z` }) : null;
    this.power = name === "machine" ? s("path", { class: "power off", d: "" }) : null;
    this.svg = s("svg", { viewBox: "10 0 100 86", "aria-hidden": "true" },
      this.axle, this.turn, ...BODIES[name](), this.gap, ...[this.extra, this.power].filter(Boolean));
    this.words = h("span", {});
    this.element = h("div", {}, this.svg, h("b", {}, name), this.words);
  }

  show(part, flow) {
    put(this.words, part.words);
    const apart = !part.passes && (this.name === "clutch" || this.name === "gearbox");
    const [from, to] = AXLES[this.name];
    const whole = `M${from} ${MIDDLE}H${to}`;
    const split = this.name === "clutch" ? `M-500 ${MIDDLE}H48M72 ${MIDDLE}H700` : `M-500 ${MIDDLE}H24M98 ${MIDDLE}H700`;
    this.axle.setAttribute("d", apart ? split : whole);
    if (this.name === "clutch") {
      this.gap.setAttribute("class", "");
      this.gap.setAttribute("d", apart ? `M48 ${MIDDLE - 20}v40M72 ${MIDDLE - 20}v40` : `M57 ${MIDDLE - 20}v40M63 ${MIDDLE - 20}v40`);
    }
    const way = part.turns === 1 ? "turn ahead" : part.turns === -1 ? "turn astern" : "turn off";
    if (this.turn.getAttribute("class") !== way) this.turn.setAttribute("class", way);
    this.extra?.setAttribute("class", part.words === "engaged" ? "block" : part.words === "released" ? "block off" : "loose");
    if (this.power) {
      this.power.setAttribute("class", flow.way ? "power" : "power off");
      this.power.setAttribute("d", flow.way === 1 ? "M60 2v24M50 16l10 12l10 -12" : "M60 34V6M50 18l10 -12l10 12");
    }
  }
}

export class ShaftLines {
  build(boat, place) {
    this.lines = boat.shafts.map((shaft) => {
      const parts = Object.fromEntries(boat.parts.map((name) => [name, new Part(name)]));
      const mode = h("span", { class: "mode" });
      const flow = h("span", { class: "flow" });
      place.append(h("div", { class: "line", "data-shaft": shaft },
        h("h3", {}, shaft, mode, flow), h("div", { class: "parts" }, Object.values(parts).map((part) => part.element))));
      return { shaft, parts, mode, flow };
    });
  }

  show(view) {
    for (const line of this.lines) {
      const facts = view.drawings.find((one) => one.shaft === line.shaft);
      const mode = String(view.signals[`${line.shaft}.mode`]);
      put(line.mode, mode);
      line.mode.dataset.mode = mode;
      put(line.flow, facts.flow.words);
      for (const [name, part] of Object.entries(line.parts)) part.show(facts.parts[name], facts.flow);
    }
  }
}
