// Views behind tabs, worked by arrow keys as well.

import { h } from "./dom.js";

export class Tabs {
  constructor(bar, panes) {
    this.bar = bar;
    this.panes = panes;
    this.all = [];
    bar.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!step) return;
      const at = this.all.findIndex((one) => one.tab === document.activeElement);
      if (at < 0) return;
      event.preventDefault();
      const next = this.all[(at + step + this.all.length) % this.all.length];
      next.tab.focus();
      this.open(next);
    });
  }

  add(id, words) {
    const tab = h("button", { type: "button", role: "tab", id: `tab-${id}`, "aria-controls": `pane-${id}`, "aria-selected": "false", tabindex: "-1", onclick: () => this.open(one) }, words);
    const pane = h("div", { role: "tabpanel", class: "pane", id: `pane-${id}`, "aria-labelledby": `tab-${id}`, tabindex: "0", hidden: true });
    const one = { tab, pane };
    this.all.push(one);
    this.bar.append(tab);
    this.panes.append(pane);
    if (this.all.length === 1) this.open(one);
    return pane;
  }

  open(chosen) {
    for (const { tab, pane } of this.all) {
      const on = tab === chosen.tab;
      tab.setAttribute("aria-selected", String(on));
      tab.tabIndex = on ? 0 : -1;
      pane.hidden = !on;
    }
    this.opened?.();
  }
}
