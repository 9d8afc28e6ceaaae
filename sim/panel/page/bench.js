// The bench's own hands: faults, jumps and surroundings of the simulated boat, procedures, recording, and the bus.

import { h, named, put } from "./dom.js";

export class Faults {
  constructor(ask) { this.ask = ask; }

  build(boat, place) {
    if (!boat.faults) return;
    const pick = h("select", { id: "fault", "aria-label": "fault", onchange: () => this.choose(boat.faults.find((one) => one.name === pick.value)) },
      boat.faults.map((one) => h("option", { value: one.name }, one.name.replaceAll("_", " "))));
    this.form = h("div", {});
    this.active = h("div", { role: "status" });
    place.append(h("fieldset", { class: "in-control" }, h("legend", { class: "unseen" }, "Faults"),
      h("h3", {}, "At work"), this.active, h("h3", {}, "Begin a fault"), h("div", { class: "row" }, pick), this.form));
    this.choose(boat.faults[0]);
    this.before = null;
  }

  choose(fault) {
    const target = h("select", { id: "fault-target", "aria-label": "on" }, fault.targets.map((one) => h("option", { value: one }, one)));
    const fields = fault.params.map((param) => [param, param.words.length
      ? h("select", { "aria-label": param.name }, param.words.map((word) => h("option", { value: word, selected: word === param.default }, word)))
      : h("input", { type: "number", step: "any", min: param.low, max: param.high, value: param.default, "aria-label": `${param.name} ${param.unit}` })]);
    const begin = h("button", { type: "button", class: "main", id: "inject", onclick: () => {
      const params = Object.fromEntries(fields.map(([param, field]) => [param.name, param.words.length ? field.value : Number(field.value)]));
      this.ask("inject", { fault: fault.name, target: target.value, params });
    } }, "begin");
    this.form.replaceChildren(h("p", {}, `${fault.words}.`),
      h("div", { class: "row" }, "on", target, fields.map(([param, field]) => [` ${param.name.replaceAll("_", " ")} `, field]), begin),
      h("table", {}, h("caption", {}, "What the supervisor must do"), h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "where it hits"), h("th", { scope: "col" }, "required reaction"))),
        h("tbody", {}, Object.entries(fault.required).map(([where, what]) => h("tr", {}, h("td", {}, where), h("td", {}, what))))));
  }

  show(slow) {
    const text = JSON.stringify(slow.faults);
    if (!this.active || text === this.before) return;
    this.before = text;
    this.active.replaceChildren(...(slow.faults.length ? slow.faults.map((one) => h("div", { class: "row" }, `${one.fault.replaceAll("_", " ")} on ${one.target}`,
      h("button", { type: "button", onclick: () => this.ask("clear", one), "aria-label": `end ${one.fault} on ${one.target}` }, "end it"))) : [h("p", {}, "no fault")]));
  }
}

export class Around {
  constructor(hands, ask) { this.hands = hands; this.ask = ask; }

  build(boat, place) {
    if (!boat.targets) return;
    const shafts = new Set([...boat.shafts, "helm", "handset"]);
    const rest = boat.targets.filter((target) => !target.lacks && !shafts.has(target.name.split(".")[0]));
    const own = rest.filter((target) => target.name.startsWith("interlock."));
    const around = rest.filter((target) => !target.name.startsWith("interlock."));
    const words = Object.fromEntries(boat.interlocks.map((one) => [one.name, `${one.good} / ${one.bad} (${one.effect.replaceAll("_", " ")})`]));
    place.append(h("fieldset", { class: "in-control" }, h("legend", { class: "unseen" }, "Surroundings"),
      h("h3", {}, "Around the boat"), h("div", { class: "two" }, around.map((target) => this.hands.control(target, named(target.name, target.unit)))),
      own.length ? [h("h3", {}, "Own interlocks of this boat"), own.map((target) => h("div", {}, this.hands.control(target, named(target.name.split(".")[1])), h("p", { class: "soft" }, words[target.name.split(".")[1]] ?? "")))] : h("p", { class: "soft" }, "This boat file declares no own interlock."),
      h("h3", {}, "Jumps: the simulated boat is set to a value, which nobody tells the supervisor"), h("div", { class: "two" }, boat.jumps.map((jump) => this.jump(jump)))));
  }

  jump(jump) {
    const field = h("input", { type: "number", step: "any", min: jump.low, max: jump.high, "data-jump": jump.name, "aria-label": `${named(jump.name, jump.unit)}, ${jump.low} to ${jump.high} ${jump.unit}` });
    const set = () => { if (field.value !== "") this.ask("set", { target: jump.name, value: Number(field.value) }); };
    field.addEventListener("keydown", (event) => { if (event.key === "Enter") set(); });
    return h("div", { class: "row" }, h("span", { class: "name" }, named(jump.name, jump.unit)), field, ` ${jump.unit}`, h("button", { type: "button", onclick: set, "aria-label": `set ${named(jump.name, jump.unit)}` }, "set"));
  }
}

export class Procedures {
  constructor(ask, say) { this.ask = ask; this.say = say; }

  build(boat, place) {
    if (!boat.procedures) return;
    const pick = h("select", { id: "procedure", "aria-label": "shipped procedure" }, boat.procedures.map((one) => h("option", { value: one.name }, `${one.name.replaceAll("_", " ")}: ${one.title}`)));
    const file = h("input", { type: "file", accept: ".toml", "aria-label": "a procedure file of your own" });
    this.text = h("textarea", { readonly: true, "aria-label": "the procedure that was made", hidden: true });
    this.link = h("a", { hidden: true, download: "made_on_the_panel.toml" }, "save it as a file");
    this.recording = h("p", { role: "status" });
    this.record = h("button", { type: "button", id: "record", onclick: () => this.ask("record") }, "record");
    this.verdicts = h("div", { id: "verdicts", role: "status" });
    place.append(h("fieldset", { class: "in-control" }, h("legend", { class: "unseen" }, "Procedures"),
      h("h3", {}, "Run a procedure: the boat is powered up anew for it"),
      h("div", { class: "row" }, pick, h("button", { type: "button", class: "main", id: "run", onclick: () => this.ask("procedure", { procedure: pick.value }) }, "run"),
        h("button", { type: "button", id: "stop-procedure", onclick: () => this.ask("stop") }, "stop it")),
      h("div", { class: "row" }, file, h("button", { type: "button", onclick: () => this.load(file) }, "run this file")),
      this.verdicts,
      h("h3", {}, "Keep what you do"), this.recording,
      h("div", { class: "row" }, this.record, h("button", { type: "button", id: "make", onclick: () => this.make() }, "make a procedure of what was done since power-up"),
        h("button", { type: "button", id: "anew", onclick: () => this.ask("power_up") }, "power up anew"))),
      this.text, this.link);
  }

  async load(file) {
    const one = file.files[0];
    if (!one) { this.say("no file is chosen"); return; }
    await this.ask("procedure", { procedure: one.name, text: await one.text() });
  }

  async make() {
    const answer = await this.ask("make");
    if (!answer.ok) return;
    this.text.hidden = this.link.hidden = false;
    this.text.value = answer.text;
    this.link.href = `data:text/plain;charset=utf-8,${encodeURIComponent(answer.text)}`;
    this.say("A procedure was made. It expects what was seen, not what ought to be: read it before you keep it.");
  }

  fast(view) {
    if (!this.record) return;
    put(this.recording, view.recording ? `Recording to ${view.recording}` : "Not recording. A recording begins with power-up, so that it can be replayed.");
    put(this.record, view.recording ? "end recording, write the run folder" : "power up anew and record");
  }

  show(slow) {
    const text = JSON.stringify(slow.progress);
    if (!this.verdicts || text === this.before) return;
    this.before = text;
    const run = slow.progress;
    if (!run) { this.verdicts.replaceChildren(); return; }
    this.verdicts.replaceChildren(h("p", {}, h("b", {}, run.title), run.now ? `: step ${run.now} (${run.done.length} of ${run.total} done)` : ""),
      h("p", { id: "summary" }, run.summary), run.folder ? h("p", { class: "soft" }, `run folder: ${run.folder}`) : null,
      h("ol", { class: "verdicts" }, run.done.map((step) => h("li", { "data-verdict": step.verdict }, `${step.name}: `, h("b", {}, step.verdict),
        step.verdict === "fail" ? h("ul", {}, step.checks.filter((check) => check.verdict === "fail").map((check) => h("li", {}, `expected ${check.expected}; seen ${check.seen}`))) : null))));
  }
}

export class TrafficTable {
  build(_boat, place) {
    this.words = "";
    this.rows = [];
    const filter = h("input", { type: "search", "aria-label": "only rows with these words", placeholder: "filter", oninput: () => { this.words = filter.value.toLowerCase(); this.draw(); } });
    const freeze = h("button", { type: "button", "aria-pressed": "false", onclick: () => { this.frozen = !this.frozen; freeze.setAttribute("aria-pressed", String(this.frozen)); } }, "freeze table");
    this.body = h("tbody", {});
    place.append(h("div", { class: "row" }, freeze, filter), h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "bus traffic" },
      h("table", { id: "traffic" }, h("thead", {}, h("tr", {}, ["bus", "identifier", "message", "from", "per s", "age s", "values"].map((word) => h("th", { scope: "col" }, word)))), this.body)));
    this.place = place;
  }

  show(rows) {
    if (this.frozen) return;
    this.rows = rows;
    if (this.place.offsetParent !== null) this.draw();
  }

  draw() {
    const fits = this.rows.filter((row) => !this.words || `${row.bus} ${row.id} ${row.name} ${row.from} ${row.values}`.toLowerCase().includes(this.words));
    this.body.replaceChildren(...fits.map((row) => h("tr", {}, h("td", {}, row.bus), h("td", {}, row.id), h("td", {}, row.name || "not in the boat's DBC files"), h("td", {}, row.from),
      h("td", { class: "num" }, row.rate_hz.toFixed(1)), h("td", { class: "num" }, row.age_s.toFixed(2)), h("td", {}, row.values || row.data))));
  }
}
