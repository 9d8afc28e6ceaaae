// The page: it shows what the server says, and asks for what hands do. It decides nothing.

import { Alarms } from "./alarms.js";
import { Around, Faults, Procedures, TrafficTable } from "./bench.js";
import { byId, clock, h, put, shown } from "./dom.js";
import { Timeline } from "./events.js";
import { Hands } from "./hands.js";
import { Plots } from "./plots.js";
import { ShaftLines } from "./shaftline.js";
import { Tabs } from "./tabs.js";
import { Why } from "./why.js";
import { Wire } from "./wire.js";

const KINDS = {
  simulated: "SIMULATED BOAT: nothing real is attached",
  watching: "WATCHING A BUS: this page sends nothing",
  playing: "A RECORDING IS PLAYED: nothing is attached",
};

let boat = null;
let slow = null;
let answers = 0;
const followers = [];

const wire = new Wire(heard);
const hands = new Hands(wire, act, say);
const lines = new ShaftLines();
const plots = new Plots();
const alarms = new Alarms(act);
const timeline = new Timeline();
const why = new Why();
const faults = new Faults(ask);
const around = new Around(hands, ask);
const procedures = new Procedures(ask, say);
const traffic = new TrafficTable();

/** Ask, and say what comes of it where that is worth saying. */
const OLD_MS = 1500; // twenty views a second are expected

async function ask(what, fields = {}) {
  const answer = await wire.ask(what, fields);
  if (!answer.ok || (answer.text && what !== "make")) say(answer.text);
  return answer;
}

function act(target, value) {
  return ask("act", { target, value });
}

/** A word to whoever looks at the page; it stays until it is closed or another one comes. */
function say(words) {
  const notice = byId("notice");
  answers += 1;
  notice.replaceChildren(words, h("button", { type: "button", onclick: () => { notice.hidden = true; } }, "close"));
  notice.hidden = false;
}

function heard(kind, data) {
  if (kind === "hello") hello(data);
  else if (kind === "fast") fast(data);
  else if (kind === "slow") { slow = data; showSlow(); }
  else if (kind === "events") { for (const event of data) if (event.n > timeline.last) plots.mark(event); timeline.take(data); }
  else if (kind === "past") plots.past(data);
  else if (kind === "traffic") traffic.show(data);
  else if (kind === "bye") say(data);
  else if (kind === "closed") { put(byId("holder"), "NOT CONNECTED: what is shown is old"); document.body.classList.add("cut"); control(false, false); }
  else if (kind === "open") document.body.classList.remove("cut");
}

function hello(told) {
  if (boat !== null) {
    if (told.boot !== boat.boot) location.reload();
    boat.you = told.you;
    return;
  }
  boat = told;
  document.title = `${boat.title}: bench panel`;
  put(byId("title"), boat.title);
  put(byId("kind"), KINDS[boat.mode]);
  if (!boat.targets) put(byId("about"), "This page shows what was heard or recorded, and works nothing.");
  const tabs = new Tabs(byId("tabs"), byId("panes"));
  plots.build(boat, tabs.add("plots", "Plots"));
  timeline.build(boat, tabs.add("events", "Timeline"));
  why.build(boat, tabs.add("why", "Why, limits"));
  if (boat.targets) {
    faults.build(boat, tabs.add("faults", "Faults"));
    around.build(boat, tabs.add("around", "Surroundings"));
    procedures.build(boat, tabs.add("procedures", "Procedures"));
    hands.build(boat, byId("hands-set"));
    pacing();
  }
  traffic.build(boat, tabs.add("traffic", "Bus"));
  tabs.opened = () => { if (slow) showSlow(); traffic.draw(); plots.draw(); };
  if (!boat.targets) {
    document.body.dataset.watching = "yes";
    byId("hands").replaceChildren(h("h2", {}, boat.heading), h("p", {}, `${boat.says}.`));
    put(byId("holder"), boat.mode === "watching" ? "watching: sends no frame" : `recording of ${clock(boat.length_s)}`);
    put(byId("clock-of"), boat.mode === "watching" ? "listening for" : "of the recording");
    if (boat.length_s) playing();
    byId("take").hidden = byId("stop").hidden = byId("answering").hidden = true;
  }
  lines.build(boat, byId("drawings"));
  alarms.build(boat, { alarms: byId("alarms"), crew: byId("crew"), limits: why.limits, tightest: byId("tightest") });
  wire.beatEvery(boat.beat_ms);
  control(false, true);
  setInterval(news, 250);
  document.body.dataset.ready = "yes";
}

function pacing() {
  const words = (speed) => (speed === 0 ? "as fast as it can" : speed === 1 ? "real time" : `${speed} times faster`);
  const pick = h("select", { id: "speed", "aria-label": "how fast the boat's time goes", onchange: () => ask("speed", { value: Number(pick.value) }) },
    boat.speeds.map((speed) => h("option", { value: speed }, words(speed))));
  byId("pacing").append(pick);
}

/** A recording: play it, stop it, go to any moment. */
function playing() {
  pacing();
  const play = h("button", { type: "button", id: "play", onclick: () => ask("play", { value: play.textContent === "play" }) }, "stop");
  const at = h("input", { type: "range", id: "seek", min: 0, max: boat.length_s, step: 0.1, value: 0, "aria-label": "moment of the recording, seconds" });
  let touched_ms = -1e9;
  at.addEventListener("input", () => { touched_ms = performance.now(); });
  at.addEventListener("change", () => ask("seek", { value: Number(at.value) }));
  byId("hands").append(h("div", { class: "row across" }, play, at));
  followers.push((view) => {
    put(play, view.playing ? "stop" : "play");
    if (performance.now() - touched_ms > 600 && document.activeElement?.id !== "seek") at.value = view.time_s;
    at.setAttribute("aria-valuetext", clock(view.time_s));
  });
}

/** A connection that stands and brings nothing looks like a boat that stands still: it is said. */
function news() {
  const old = wire.silent_ms > OLD_MS;
  if (old) put(byId("holder"), `NO NEWS FOR ${Math.round(wire.silent_ms / 1000)} s: what is shown is old`);
  document.body.classList.toggle("cut", old || wire.socket === null);
}

/** Bank current in words: the sign is positive into the bank everywhere else, and nobody should have to remember it. */
function flow(current) {
  if (typeof current !== "number") return shown(current, "A", 1);
  return `${shown(Math.abs(current), "A", 1)} ${current < 0 ? "out of" : "into"} the bank`;
}

function fast(view) {
  if (!boat) return;
  const { signals } = view;
  put(byId("clock"), clock(view.time_s));
  put(byId("boat-mode"), String(signals["boat.mode"]));
  byId("boat-mode").dataset.mode = signals["boat.mode"];
  put(byId("bank"), `Bank ${shown(signals["bank.soc_pct"], "%")} · ${flow(signals["bank.current_a"])} · ${shown(signals["bank.voltage_v"], "V", 1)} · contactor ${signals["bank.contactor"] === 1 ? "closed" : signals["bank.contactor"] === 0 ? "OPEN" : "unknown"} · hotel ${shown(signals["hotel.current_a"], "A", 0)} · boat ${shown(signals["boat.speed_kn"], "kn", 1)}`);
  const mine = view.control.holder !== "" && view.control.holder === boat.you;
  control(mine, view.control.holder === "");
  if (boat.targets) put(byId("holder"), mine ? `You control (${boat.you})` : view.control.holder ? `You watch (${boat.you}); ${view.control.holder} controls` : view.control.lost ? `${view.control.lost}. Nobody controls` : "Nobody controls");
  const pick = byId("speed");
  if (pick && document.activeElement !== pick && Number(pick.value) !== view.speed) pick.value = String(view.speed);
  for (const follow of followers) follow(view);
  hands.follow(view.hands);
  lines.show(view);
  plots.take(view, performance.now());
  procedures.fast(view);
  const stop = byId("stop");
  const pressed = String(view.hands["helm.emergency_stop"] === true);
  if (stop.getAttribute("aria-pressed") !== pressed) stop.setAttribute("aria-pressed", pressed);
}

function showSlow() {
  alarms.show(slow);
  why.show(slow);
  faults.show(slow);
  procedures.show(slow);
}

/** Controls work on the page that has control, and on no other. */
function control(mine, free) {
  wire.inControl = mine;
  if (!mine) wire.held.clear();
  const take = byId("take");
  put(take, mine ? "Let go (levers to neutral)" : "Take control");
  if (take.disabled === (mine || free)) take.disabled = !(mine || free);
  take.classList.toggle("main", !mine && free);
  for (const set of document.querySelectorAll("#hands-set, .in-control")) if (set.disabled === mine) set.disabled = !mine;
  const pick = byId("speed");
  if (pick && boat.targets && pick.disabled === mine) pick.disabled = !mine;
}

byId("take").addEventListener("click", () => ask(wire.inControl ? "let_go" : "take"));
byId("acknowledge").addEventListener("click", () => act("helm.acknowledge", "press"));
byId("stop").addEventListener("click", emergency);
window.addEventListener("keydown", (event) => {
  if (event.key === "Escape") { event.preventDefault(); emergency(); }
});

function emergency() {
  if (boat?.targets) act("helm.emergency_stop", true);
}

// ---- light and dark

const THEMES = ["light", "dark"];
function theme(name) {
  document.documentElement.dataset.theme = name;
  put(byId("theme"), name === "dark" ? "to light" : "to dark");
  plots.place && plots.draw();
}
const wanted = () => localStorage.getItem("theme") ?? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light");
theme(THEMES.includes(wanted()) ? wanted() : "light");
byId("theme").addEventListener("click", () => {
  const next = document.documentElement.dataset.theme === "dark" ? "light" : "dark";
  localStorage.setItem("theme", next);
  theme(next);
});
