/** What is decided here: the same lists as in the file of choices, and that file as text. */
const LISTS = ["shots", "joins", "pauses", "levels"];
const FIELDS = {
  shots: { clip: "", source_in: -1, begin_by: 0, end_by: 0, about: "" },
  joins: { before_by: 0, after_by: 0, about: "" },
  pauses: { length_s: 4, clip: "", source_in: -1, about: "" },
  levels: { gain_db: 0, about: "" },
};
const empty = () => ({ version: 1, never: [], means: {}, shots: [], joins: [], pauses: [], levels: [] });
const STORE = `choices of ${page.film.file} ${page.mark || ""}`;

const choices = {
  now: Object.assign(empty(), structuredClone(page.choices || {})),
  dirty: false,
  watchers: [],

  of(list, name) { return this.now[list].findLast((row) => row.name === name) || null; },

  put(list, row) {
    this.now[list] = [...this.now[list].filter((one) => one.name !== row.name), row];
    this.changed({ put: { [list]: [row] } });
  },

  drop(list, name) {
    if (!this.of(list, name)) return;
    this.now[list] = this.now[list].filter((one) => one.name !== name);
    this.changed({ drop: [name] });
  },

  never(clip, on) {
    this.now.never = on ? [...new Set([...this.now.never, clip])] : this.now.never.filter((one) => one !== clip);
    this.changed({ never: { [clip]: on } });
  },

  means(tag, word, on) {
    const words = (this.now.means[tag] || []).filter((one) => one !== word);
    this.now.means = { ...this.now.means, [tag]: on ? [...words, word] : words };
    if (!this.now.means[tag].length) delete this.now.means[tag];
    this.changed({ means: { tag, word, on } });
  },

  changed(change) {
    this.dirty = true;
    if (served) server.send(change);
    else {
      try { localStorage.setItem(STORE, JSON.stringify(this.now)); } catch { /* a page may be kept from it */ }
    }
    this.tell();
  },

  tell() { for (const watch of this.watchers) watch(); },

  take(now) {
    this.now = Object.assign(empty(), now);
    this.tell();
  },

  get many() { return LISTS.reduce((sum, list) => sum + this.now[list].length, 0); },

  text() {
    const lines = [page.choices_head || "", `version = ${this.now.version}`];
    if (this.now.never.length) lines.push(`never = [${this.now.never.map(quoted).join(", ")}]`);
    const tags = Object.entries(this.now.means);
    if (tags.length) {
      lines.push("", "[means]");
      for (const [tag, words] of tags) lines.push(`${quoted(tag)} = [${words.map(quoted).join(", ")}]`);
    }
    for (const list of LISTS) {
      for (const row of this.now[list]) {
        lines.push("", `[[${list}]]`, `name = ${quoted(row.name)}`, `choice = ${quoted(row.choice)}`);
        for (const [key, usual] of Object.entries(FIELDS[list])) {
          if (key in row && row[key] !== usual)
            lines.push(`${key} = ${typeof row[key] === "string" ? quoted(row[key]) : row[key]}`);
        }
      }
    }
    return lines.join("\n") + "\n";
  },
};

/** A string of TOML is one of JSON but for one character; halves of pairs are no text at all. */
function quoted(text) {
  return JSON.stringify(text.toWellFormed ? text.toWellFormed() : text).replaceAll("\x7f", "\\u007f");
}

if (!served) {
  try {
    const kept = localStorage.getItem(STORE);
    if (kept) { choices.now = Object.assign(empty(), JSON.parse(kept)); choices.dirty = choices.many > 0; }
  } catch { /* nothing is kept then */ }
  addEventListener("beforeunload", (event) => { if (choices.dirty) event.preventDefault(); });
}

/** Hands a file to the person: from the page itself, without any address. */
function handOver(text, name, kind) {
  const url = URL.createObjectURL(new Blob([text], { type: kind }));
  const link = make("a", { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}

function saveChoices() {
  handOver(choices.text(), `${page.film.name}.choices.toml`, "application/toml");
  choices.dirty = false;
  choices.tell();
  say(`${plural(choices.many, "choice")} saved as a file`);
}
