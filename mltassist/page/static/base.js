"use strict";

/** The data of the page, and small means to show it. Everything that documents say is set as text. */
const page = JSON.parse(document.getElementById("data").textContent);
const served = page.served || null;

const byId = (id) => document.getElementById(id);

/** An element with properties and children; texts become text nodes, never markup. */
function make(kind, properties = {}, ...children) {
  const [tag, ...classes] = kind.split(".");
  const made = document.createElement(tag || "div");
  if (classes.length) made.className = classes.join(" ");
  for (const [key, value] of Object.entries(properties)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key in made && !key.includes("-") && key !== "list") made[key] = value;
    else made.setAttribute(key, value === true ? "" : value);
  }
  return add(made, children);
}

/** Children put at the end of an element; those that are nothing are left out. */
function add(parent, ...children) {
  parent.append(...children.flat(9).filter((child) => child !== null && child !== undefined && child !== ""));
  return parent;
}

/** A name out of a document: its own direction, set apart from the words around it. */
const named = (text) => make("bdi", {}, text || "without a name");

/** Tells those who do not see the page what has happened. */
function say(text) {
  byId("live").textContent = "";
  requestAnimationFrame(() => { byId("live").textContent = text; });
}

const rate = page.film.rate[0] / page.film.rate[1];
const seconds = (frames) => frames / rate;

/** A frame as minutes and seconds, for the eye. */
function clock(frame) {
  const whole = Math.max(0, Math.floor(seconds(frame)));
  const hours = Math.floor(whole / 3600), minutes = Math.floor(whole / 60) % 60;
  const tail = String(whole % 60).padStart(2, "0");
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${tail}` : `${minutes}:${tail}`;
}

const plural = (many, one, more = one + "s") => `${many} ${many === 1 ? one : more}`;
const figure = (value, unit, digits = 1) =>
  value === null || value === undefined ? "–" : `${value.toFixed(digits).replace("-", "−")}\u00a0${unit}`;

const SVG = "http://www.w3.org/2000/svg";
function draw(tag, properties = {}, ...children) {
  const made = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(properties)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}
