// Rolling plots, drawn a few times a second while they are looked at.

import { h, put, s, shown } from "./dom.js";

const DASHES = { solid: [], dashed: [9, 5], dotted: [2, 4] };
const MARKS = ["trip", "fault", "refusal"];

export class Plots {
  constructor() {
    this.points = [];
    this.marks = [];
    this.window_s = 60;
    this.frozen = false;
    this.due_ms = 0;
  }

  build(boat, place) {
    this.period_ms = 1000 * boat.plot_period_s;
    this.signals = [...new Set(boat.plots.flatMap((picture) => picture.lines.map((line) => line.signal)))];
    const freeze = h("button", { type: "button", "aria-pressed": "false", onclick: () => {
      this.frozen = !this.frozen;
      freeze.setAttribute("aria-pressed", String(this.frozen));
    } }, "freeze plots");
    const span = h("select", { "aria-label": "time shown", onchange: () => { this.window_s = Number(span.value); this.draw(); } },
      [[60, "1 minute"], [300, "5 minutes"], [1800, "30 minutes"]].map(([value, words]) => h("option", { value }, words)));
    place.append(h("div", { class: "row" }, freeze, h("label", {}, "of boat's time: ", span)));
    this.pictures = boat.plots.map((picture) => {
      const canvas = h("canvas", { role: "img", "aria-label": `${picture.title}; its latest values are listed below it` });
      const values = picture.lines.map(() => h("b", {}));
      const legend = picture.lines.map((line, index) => h("li", {},
        s("svg", { viewBox: "0 0 44 10", "aria-hidden": "true" }, s("path", { d: "M0 5H44", class: `shade${line.shade}`, "stroke-width": 3, "stroke-dasharray": DASHES[line.dash].join(" ") || "none" })),
        `${line.name} `, values[index]));
      return { ...picture, canvas, values, element: h("figure", {}, h("figcaption", {}, `${picture.title}${picture.unit ? `, ${picture.unit}` : ""}`), canvas, h("ul", { class: "legend" }, legend)) };
    });
    place.append(h("div", { class: "plots" }, this.pictures.map((picture) => picture.element)));
    this.place = place;
  }

  past(past) {
    this.points = past.points.map((row) => Object.fromEntries(past.signals.map((name, index) => [name, row[index]])));
  }

  mark(event) {
    if (MARKS.includes(event.kind)) this.marks.push(event.time_s);
    if (event.kind === "power up") { this.points = []; this.marks = []; }
  }

  take(view, now_ms) {
    if (now_ms < this.due_ms) return;
    this.due_ms = now_ms + this.period_ms;
    const last = this.points.at(-1);
    if (last && view.time_s < last.time_s) { this.points = []; this.marks = []; }
    const point = { time_s: view.time_s };
    for (const name of this.signals) point[name] = view.signals[name];
    this.points.push(point);
    if (this.points.length > 9000) this.points.splice(0, 1000);
    if (!this.frozen && this.place.offsetParent !== null) this.draw();
  }

  draw() {
    const points = this.points;
    const end_s = points.length ? points.at(-1).time_s : 0;
    const first = points.findIndex((point) => point.time_s >= end_s - this.window_s);
    const seen = points.slice(Math.max(first - 1, 0));
    for (const picture of this.pictures) this.picture(picture, seen, end_s);
  }

  picture(picture, points, end_s) {
    const { canvas } = picture;
    const style = getComputedStyle(document.documentElement);
    const scale = window.devicePixelRatio || 1;
    const width = canvas.clientWidth, height = canvas.clientHeight;
    if (canvas.width !== Math.round(width * scale)) canvas.width = Math.round(width * scale);
    if (canvas.height !== Math.round(height * scale)) canvas.height = Math.round(height * scale);
    const pen = canvas.getContext("2d");
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    pen.clearRect(0, 0, width, height);
    const values = points.flatMap((point) => picture.lines.map((line) => point[line.signal] === null ? null : point[line.signal] * line.factor)).filter((value) => value !== null && value !== undefined);
    let low = values.length ? Math.min(...values) : 0, high = values.length ? Math.max(...values) : 1;
    if (high - low < picture.span) { const middle = (high + low) / 2; low = middle - picture.span / 2; high = middle + picture.span / 2; }
    const room = 0.06 * (high - low);
    low -= room; high += room;
    const left = 52, bottom = height - 20;
    const x = (time_s) => left + (width - left - 6) * (1 - (end_s - time_s) / this.window_s);
    const y = (value) => bottom - (bottom - 6) * (value - low) / (high - low);
    pen.font = "13px system-ui, sans-serif";
    pen.fillStyle = style.getPropertyValue("--soft");
    pen.strokeStyle = style.getPropertyValue("--faint");
    pen.lineWidth = 1;
    pen.setLineDash([]);
    for (const value of ticks(low, high, 4)) {
      pen.beginPath(); pen.moveTo(left, y(value)); pen.lineTo(width, y(value)); pen.stroke();
      pen.textAlign = "right"; pen.textBaseline = "middle";
      pen.fillText(String(Number(value.toPrecision(5))), left - 5, y(value));
    }
    pen.textAlign = "center"; pen.textBaseline = "top";
    for (const time_s of ticks(end_s - this.window_s, end_s, 5)) if (time_s >= 0) pen.fillText(`${Math.round(time_s)} s`, Math.min(Math.max(x(time_s), left + 12), width - 18), bottom + 4);
    pen.fillStyle = style.getPropertyValue("--ink");
    for (const time_s of this.marks) if (time_s >= end_s - this.window_s && time_s <= end_s) {
      pen.beginPath(); pen.moveTo(x(time_s) - 5, 0); pen.lineTo(x(time_s) + 5, 0); pen.lineTo(x(time_s), 9); pen.fill();
    }
    pen.save();
    pen.beginPath(); pen.rect(left, 0, width - left, bottom); pen.clip();
    picture.lines.forEach((line, index) => {
      pen.strokeStyle = style.getPropertyValue(`--line${line.shade}`);
      pen.lineWidth = line.dash === "solid" ? 2.2 : 1.8;
      pen.setLineDash(DASHES[line.dash]);
      pen.beginPath();
      let on = false;
      for (const point of points) {
        const value = point[line.signal];
        if (value === null || value === undefined) { on = false; continue; }
        if (on) pen.lineTo(x(point.time_s), y(value * line.factor)); else pen.moveTo(x(point.time_s), y(value * line.factor));
        on = true;
      }
      pen.stroke();
      const last = points.at(-1)?.[line.signal];
      put(picture.values[index], last === null || last === undefined ? "unknown" : shown(last * line.factor, "", picture.unit === "rpm" || picture.unit === "N m" ? 0 : picture.unit === "V" ? 3 : 1));
    });
    pen.restore();
  }
}

/** Round numbers between two. */
function ticks(low, high, about) {
  const raw = (high - low) / about;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = power * [1, 2, 5, 10].find((one) => one * power >= raw);
  const found = [];
  for (let value = Math.ceil(low / step) * step; value <= high; value += step) found.push(value);
  return found;
}
