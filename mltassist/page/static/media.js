/** Stills and sounds: held in the page itself, or asked of who serves it; each only when it is wanted. */
const urls = new Map();
let whole = document.readyState === "complete" || served;

function medium(name) {
  if (served) return name.includes("/") ? name : `media/${name}`;
  if (!urls.has(name)) {
    const held = byId(`m-${name}`);
    if (!held) return null;
    const bytes = Uint8Array.from(atob(held.textContent), (letter) => letter.charCodeAt(0));
    urls.set(name, URL.createObjectURL(new Blob([bytes], { type: held.dataset.kind })));
  }
  return urls.get(name);
}

const coming = new Set();
document.addEventListener("DOMContentLoaded", () => {
  whole = true;
  for (const show of coming) show();
  coming.clear();
});

const near = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    if (!entry.isIntersecting) continue;
    near.unobserve(entry.target);
    shown(entry.target);
  }
}, { rootMargin: "600px" });

function shown(image) {
  const url = medium(image.dataset.name);
  if (url) image.src = url;
  else if (!whole) coming.add(() => shown(image));
  else image.closest(".still")?.classList.add("missing");
}

/** What is printed is shown whole, also what nobody has scrolled to. */
addEventListener("beforeprint", () => {
  for (const image of document.querySelectorAll("img[data-name]:not([src])")) shown(image);
});

/** A picture by its name, fetched when it comes near. */
function still(name, alt, kind = "") {
  const frame = make(`span.still${kind ? "." + kind : ""}`);
  if (!name) {
    frame.classList.add("missing");
    frame.append(make("span.unseen", {}, alt ? `${alt}: no picture` : ""));
    return frame;
  }
  const image = make("img", { alt: alt || "", width: 320, height: 180, decoding: "async" });
  image.dataset.name = name;
  frame.append(image);
  near.observe(image);
  return frame;
}

let playing = null;

/** One sound with its button and the way it has gone. onTime: told seconds as it plays. */
class Player {
  constructor(name, label, { at = null, onTime = null, onEnd = null } = {}) {
    Object.assign(this, { name, label, onTime, onEnd });
    this.audio = make("audio", { preload: "none" });
    this.done = make("span.done");
    const line = make("span.line", {}, this.done);
    if (at !== null) {
      this.tick = make("span.tick");
      this.tick.style.left = `${at * 100}%`;
      line.append(this.tick);
    }
    this.button = make("button.play", { type: "button", "aria-pressed": "false", onclick: () => this.toggle() },
      make("span.sign", { "aria-hidden": "true" }), make("span", {}, label), line);
    this.element = make("span.player", {}, this.button, this.audio);
    this.audio.addEventListener("timeupdate", () => this.moved());
    this.audio.addEventListener("ended", () => { this.stop(); this.onEnd?.(); });
    this.audio.addEventListener("error", () => say(`${label}: this sound cannot be played`));
  }
  moved() {
    const length = this.audio.duration || 1;
    this.done.style.width = `${(100 * this.audio.currentTime) / length}%`;
    this.onTime?.(this.audio.currentTime);
  }
  async play() {
    if (playing && playing !== this) playing.stop();
    if (!this.audio.src) this.audio.src = medium(this.name) || "";
    playing = this;
    this.button.setAttribute("aria-pressed", "true");
    this.element.classList.add("on");
    try {
      await this.audio.play();
      this.follow();
    } catch { this.stop(); }
  }
  follow() {
    if (playing !== this || this.audio.paused) return;
    this.moved();
    requestAnimationFrame(() => this.follow());
  }
  stop() {
    this.audio.pause();
    if (this.audio.src) this.audio.currentTime = 0;
    this.button.setAttribute("aria-pressed", "false");
    this.element.classList.remove("on");
    if (playing === this) playing = null;
    this.done.style.width = "0";
    this.onTime?.(null);
  }
  toggle() { if (playing === this) this.stop(); else this.play(); }
}
