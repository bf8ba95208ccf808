/** What a served page does besides: choices are on the disk at once, plans come anew, the project is written. */
const server = {
  unsent: [], sending: false, told: "", planning: false, writes: null, problem: "",

  /** Changes go one after the other; each is told as saved when it is on the disk, not before. */
  send(change) {
    this.unsent.push(change);
    if (!this.sending) this.next();
  },

  async next() {
    this.sending = true;
    while (this.unsent.length) {
      try {
        const answer = await this.ask("choices", this.unsent[0]);
        if (answer.status >= 400 && answer.status < 500 && answer.status !== 409) this.lost(answer.body.problem);
        else if (answer.status >= 400) throw new Error(answer.body.problem);
        this.unsent.shift();
        this.problem = "";
        if (!this.unsent.length && answer.body.choices) { choices.dirty = false; choices.take(answer.body.choices); this.planning = true; }
      } catch (error) {
        this.problem = `not saved: ${error.message}`;
        choices.tell();
        await new Promise((go) => setTimeout(go, 1500));
      }
    }
    this.sending = false;
    choices.tell();
  },

  lost(problem) { say(problem); this.told = problem; },

  async ask(where, body) {
    const options = body === undefined ? {} : { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
    const answer = await fetch(where, options);
    return { status: answer.status, body: await answer.json() };
  },

  async poll() {
    try {
      const { body } = await this.ask("state");
      this.planning = body.planning;
      this.problem = body.problem;
      if (this.writes !== null && body.writes > this.writes) { this.told = `written: ${body.written}`; say(this.told); this.writing = false; }
      this.writes = body.writes;
      if (body.choices && !this.unsent.length && JSON.stringify(body.choices) !== JSON.stringify(choices.now)) choices.take(body.choices);
      if (body.serial !== page.served.serial && !this.unsent.length && !document.activeElement?.matches(WRITING)) await this.renew();
      this.gone = false;
    } catch {
      this.gone = true;
    }
    choices.tell();
    setTimeout(() => this.poll(), 1000);
  },

  /** The page with what was planned anew; who was on a decision stays there. */
  async renew() {
    const { body } = await this.ask("data");
    if (!body || dark.on()) return;
    const was = current && { name: current.row.name_of, part: current.part, at: current.row.at, inside: current.element.contains(document.activeElement) };
    const inFilm = document.activeElement === strip.body;
    const top = was ? current.element.getBoundingClientRect().top : 0, place = scrollY;
    Object.assign(page, body);
    rebuild();
    const now = was && (cards.find((card) => card.row.name_of === was.name) || cards.filter((card) => card.part === was.part).reduce((best, card) =>
      (!best || Math.abs(card.row.at - was.at) < Math.abs(best.row.at - was.at) ? card : best), null));
    if (now) {
      now.enter();
      if (was.inside) now.element.focus({ preventScroll: true });
      scrollBy(0, now.element.getBoundingClientRect().top - top);
    } else {
      if (inFilm) strip.body.focus({ preventScroll: true });
      scrollTo(0, place);
    }
    say("the plan is renewed");
  },

  async write() {
    this.told = "";
    this.writing = true;
    say("the new project is written when all is planned");
    choices.tell();
    try { await this.ask("write", {}); } catch { this.writing = false; }
  },

  buttons(button) { return [button("Write the new project", "w", () => this.write(), ".main")]; },

  state() {
    if (this.gone) return "this page is served no more: start review again";
    if (this.problem) return this.problem;
    if (this.sending) return "saving…";
    if (this.planning) return `saved · planning anew…`;
    if (this.writing) return "saved · writing…";
    return this.told ? `saved · ${this.told}` : "saved";
  },

  listenHere(frame) {
    return new Player(`sound/${frame}`, "play from here").element;
  },
};
