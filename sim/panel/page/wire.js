// The connection to the panel's server, and the heartbeat of a page in control.
//
// The heartbeat comes from the page itself, ten times a second, and carries what is held down. A page that is frozen,
// hidden, closed or cut off does not beat, and is lost after three; nothing here keeps beating in its place.

const RETRY_MS = 50; // a connection that breaks for a moment need not be a lost page
const LONGEST_RETRY_MS = 2000;
const ANSWER_MS = 3000; // nothing that is asked for stays without an answer

export class Wire {
  /** `heard(kind, payload)` is called for each message. */
  constructor(heard) {
    this.heard = heard;
    this.held = new Set();
    this.inControl = false;
    this.client = Array.from(crypto.getRandomValues(new Uint8Array(12)), (one) => one.toString(16).padStart(2, "0")).join("");
    this.socket = null;
    this.retry_ms = RETRY_MS;
    this.number = 0;
    this.asked = new Map();
    this.news_ms = performance.now(); // when something was heard last
    document.addEventListener("visibilitychange", () => this.seen());
    window.addEventListener("pagehide", () => this.hidden());
    document.addEventListener("freeze", () => this.hidden());
    window.addEventListener("blur", () => this.dropAll());
    this.connect();
  }

  connect() {
    const query = new URLSearchParams({ client: this.client });
    const token = new URLSearchParams(location.search).get("token");
    if (token) query.set("token", token);
    const scheme = location.protocol === "https:" ? "wss" : "ws";
    const socket = new WebSocket(`${scheme}://${location.host}/wire?${query}`);
    socket.onopen = () => { this.retry_ms = RETRY_MS; this.heard("open", null); };
    socket.onmessage = (event) => this.take(JSON.parse(event.data));
    socket.onclose = () => {
      this.socket = null;
      for (const answer of this.asked.values()) answer({ ok: false, text: "the connection was lost" });
      this.asked.clear();
      this.heard("closed", null);
      setTimeout(() => this.connect(), this.retry_ms);
      this.retry_ms = Math.min(2 * this.retry_ms, LONGEST_RETRY_MS);
    };
    this.socket = socket;
  }

  /** For how long nothing was heard, ms. */
  get silent_ms() {
    return performance.now() - this.news_ms;
  }

  take(message) {
    this.news_ms = performance.now();
    if (message.t === "reply") {
      this.asked.get(message.d.re)?.(message.d);
      this.asked.delete(message.d.re);
    } else {
      this.heard(message.t, message.d);
    }
  }

  send(message) {
    if (this.socket?.readyState !== WebSocket.OPEN) return false;
    this.socket.send(JSON.stringify(message));
    return true;
  }

  /** Ask for something; the answer is { ok, text }. */
  ask(what, fields = {}) {
    const re = ++this.number;
    return new Promise((resolve) => {
      this.asked.set(re, resolve);
      if (!this.send({ do: what, re, ...fields })) {
        this.asked.delete(re);
        resolve({ ok: false, text: "not connected" });
      }
      setTimeout(() => {
        if (this.asked.delete(re)) resolve({ ok: false, text: `no answer for ${ANSWER_MS / 1000} s: not known whether it was done` });
      }, ANSWER_MS);
    });
  }

  /** Begin to beat, every so many milliseconds. */
  beatEvery(period_ms) {
    clearInterval(this.beating);
    this.beating = setInterval(() => this.beat(), period_ms);
  }

  beat() {
    if (this.inControl && document.visibilityState === "visible") this.send({ do: "beat", held: [...this.held] });
  }

  hold(target) {
    this.held.add(target);
    this.beat();
  }

  drop(target) {
    if (this.held.delete(target)) this.beat();
  }

  dropAll() {
    const some = this.held.size > 0;
    this.held.clear();
    if (some) this.beat();
    this.heard("dropped", null);
  }

  seen() {
    if (document.visibilityState === "hidden") this.hidden();
  }

  hidden() {
    this.dropAll();
    if (this.inControl) this.send({ do: "hidden" });
  }
}
