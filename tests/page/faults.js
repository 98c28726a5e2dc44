// Faults of a page that a reader would stumble over, after the success criteria of WCAG 2.2 that can be computed; the
// number of each stands beside its check. It returns a list of words, empty when all is well.
const faults = [];
const say = (what, element) => faults.push(`${what}: ${(element?.outerHTML ?? "").slice(0, 160)}`);
const seen = (element) => element.checkVisibility({ checkOpacity: true, checkVisibilityCSS: true });

// 1.4.10: nothing has to be scrolled sideways but what is a region of its own.
const root = document.documentElement;
if (root.scrollWidth > root.clientWidth) {
  const wide = [...document.body.querySelectorAll("*")].find((e) => e.getBoundingClientRect().right > root.clientWidth + 1);
  say(`wider than the window by ${root.scrollWidth - root.clientWidth}`, wide);
}

// 2.4.2, 3.1.1 and landmarks: title, language, one main part, one first heading, no level left out.
if (!document.title.trim()) say("no title");
if (!root.lang) say("no language");
if (document.querySelectorAll("main").length !== 1) say("not one main part");
if (document.querySelectorAll("h1").length !== 1) say("not one first heading");
let level = 1;
for (const heading of document.querySelectorAll("h1, h2, h3, h4, h5, h6")) {
  const own = Number(heading.localName[1]);
  if (own > level + 1) say("a level of headings is left out", heading);
  level = own;
}

// 4.1.1: each id once, and what is named by id is there.
const ids = new Map();
for (const element of document.querySelectorAll("[id]")) ids.set(element.id, (ids.get(element.id) ?? 0) + 1);
for (const [id, count] of ids) if (count > 1) say(`id ${id} comes ${count} times`);
for (const attribute of ["for", "aria-labelledby", "aria-describedby"]) {
  for (const element of document.querySelectorAll(`[${attribute}]`)) {
    for (const id of element.getAttribute(attribute).split(/\s+/)) if (!ids.has(id)) say(`${attribute} names no id`, element);
  }
}

// 1.1.1, 2.4.4, 3.3.2, 4.1.2: what is operated or drawn has a name.
const named = (element) => {
  const by = (element.getAttribute("aria-labelledby") ?? "").split(/\s+/).map((id) => document.getElementById(id)?.textContent ?? "").join("");
  const label = [...(element.labels ?? [])].map((label) => label.textContent).join("");
  return (element.getAttribute("aria-label") ?? "") + by + label + (["a", "button", "summary"].includes(element.localName) ? element.textContent : "");
};
for (const element of document.querySelectorAll("a[href], button, summary, select, textarea, input:not([type=hidden]), svg:not([aria-hidden]), [tabindex='0']")) {
  if (element.localName === "pre") continue;
  if (!named(element).trim()) say("has no name", element);
}

// 2.5.8: what is touched is at least 24 by 24, and what is pressed with a thumb 44 high (2.5.5).
for (const element of document.querySelectorAll("button, summary, select, textarea, input:not([type=hidden])")) {
  if (!seen(element)) continue;
  const box = element.getBoundingClientRect();
  const least = element.type === "range" ? 16 : 44;
  if (box.height < least - 0.5 || box.width < 24) say(`is ${box.width} by ${box.height}`, element);
}

// 1.4.3: contrast of text 4.5 to 1, or 3 to 1 where it is large; opacity counts.
const canvas = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
const rgba = (colour) => {
  canvas.clearRect(0, 0, 1, 1);
  canvas.fillStyle = colour;
  canvas.fillRect(0, 0, 1, 1);
  const [r, g, b, a] = canvas.getImageData(0, 0, 1, 1).data;
  return [r, g, b, a / 255];
};
const over = (top, under, alpha = top[3]) => [0, 1, 2].map((n) => top[n] * alpha + under[n] * (1 - alpha)).concat(1);
const light = (colour) => {
  const [r, g, b] = colour.map((part) => part / 255).map((part) => part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const behind = (element) => {
  const layers = [];
  for (let at = element; at; at = at.parentElement) layers.unshift(rgba(getComputedStyle(at).backgroundColor));
  return layers.reduce((under, layer) => over(layer, under), rgba(getComputedStyle(root).colorScheme.startsWith("dark") ? "black" : "white"));
};
const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (texts.nextNode()) {
  const element = texts.currentNode.parentElement;
  if (!texts.currentNode.data.trim() || !seen(element) || ["script", "style", "title", "desc"].includes(element.localName)) continue;
  const style = getComputedStyle(element);
  const ground = behind(element);
  let opacity = 1;
  for (let at = element; at; at = at.parentElement) opacity *= Number(getComputedStyle(at).opacity);
  const colour = rgba(element instanceof SVGElement ? style.fill : style.color);
  const [a, b] = [light(over(colour, ground, colour[3] * opacity)), light(ground)];
  const contrast = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  const large = parseFloat(style.fontSize) >= 24 || (parseFloat(style.fontSize) >= 18.66 && Number(style.fontWeight) >= 700);
  if (contrast < (large ? 3 : 4.5)) say(`contrast of ${contrast.toFixed(2)}`, element);
}
for (const field of document.querySelectorAll("[placeholder]")) {
  const ground = behind(field);
  const [a, b] = [light(over(rgba(getComputedStyle(field, "::placeholder").color), ground)), light(ground)];
  const contrast = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  if (contrast < 4.5) say(`contrast of ${contrast.toFixed(2)} of what is hinted`, field);
}

// No labels of a drawing lie over each other or stand off its paper.
for (const drawing of document.querySelectorAll("svg:not([aria-hidden])")) {
  if (!seen(drawing)) continue;
  const paper = drawing.getBoundingClientRect();
  const boxes = [...drawing.querySelectorAll("text")].map((text) => [text, text.getBoundingClientRect()]);
  boxes.forEach(([text, box], n) => {
    if (box.left < paper.left - 1 || box.right > paper.right + 1 || box.top < paper.top - 1 || box.bottom > paper.bottom + 1) say("stands off its paper", text);
    for (const [other, second] of boxes.slice(n + 1)) {
      const wide = Math.min(box.right, second.right) - Math.max(box.left, second.left);
      const tall = Math.min(box.bottom, second.bottom) - Math.max(box.top, second.top);
      if (wide > 1.5 && tall > 3.5) say(`lies over “${other.textContent}”`, text);
    }
  });
}
return faults;
