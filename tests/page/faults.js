// Faults of a page that a reader would stumble over: what axe-core finds, and what it does not look for, after the
// success criteria of WCAG 2.2, whose numbers stand beside the checks. It returns a list of words, empty when all is well.
const faults = [];
const say = (what, element) => faults.push(`${what}: ${(element?.outerHTML ?? "").slice(0, 160)}`);
const seen = (element) => element.checkVisibility({ checkOpacity: true, checkVisibilityCSS: true });

// 1.4.10: nothing has to be scrolled sideways but what is a region of its own.
const root = document.documentElement;
if (root.scrollWidth > root.clientWidth) {
  const wide = [...document.body.querySelectorAll("*")].find((e) => e.getBoundingClientRect().right > root.clientWidth + 1);
  say(`wider than the window by ${root.scrollWidth - root.clientWidth}`, wide);
}

// 2.5.8: what is touched is at least 24 by 24, and what is pressed with a thumb 44 high (2.5.5).
for (const element of document.querySelectorAll("button, summary, select, textarea, input:not([type=hidden])")) {
  if (!seen(element)) continue;
  const box = element.getBoundingClientRect();
  const least = element.type === "range" ? 16 : 44;
  if (box.height < least - 0.5 || box.width < 24) say(`is ${box.width} by ${box.height}`, element);
}

// 3.3.2: a field has a label; a hint in it, which axe takes for one, is gone when something is typed.
for (const field of document.querySelectorAll("select, textarea, input:not([type=hidden])")) {
  if (!field.labels.length && !field.getAttribute("aria-label")) say("has no label", field);
}

// 1.4.6: contrast of text 7 to 1; opacity counts.
const ENOUGH = 7;
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
const between = (...colours) => {
  const [a, b] = colours.map(light);
  return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
};
const behind = (element) => {
  const layers = [];
  for (let at = element; at; at = at.parentElement) layers.unshift(rgba(getComputedStyle(at).backgroundColor));
  return layers.reduce((under, layer) => over(layer, under), rgba(getComputedStyle(root).colorScheme.startsWith("dark") ? "black" : "white"));
};
// What axe leaves open: text of a drawing, over the rule of the headline, or on a part that is scrolled.
const undecided = (element) => {
  const style = getComputedStyle(element);
  const ground = behind(element);
  let opacity = 1;
  for (let at = element; at; at = at.parentElement) opacity *= Number(getComputedStyle(at).opacity);
  const colour = rgba(element instanceof SVGElement ? style.fill : style.color);
  return between(over(colour, ground, colour[3] * opacity), ground);
};
for (const field of document.querySelectorAll("[placeholder]")) {
  const ground = behind(field);
  const contrast = between(over(rgba(getComputedStyle(field, "::placeholder").color), ground), ground);
  if (contrast < ENOUGH) say(`contrast of ${contrast.toFixed(2)} of what is hinted`, field);
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

// All rules of axe-core, also those that it leaves out by itself: WCAG 2 AAA, best practice, what it holds experimental.
const rules = Object.fromEntries(axe.getRules().map((rule) => [rule.ruleId, { enabled: true }]));
return axe.run(document, { rules, resultTypes: ["violations", "incomplete"] }).then(({ violations, incomplete }) => {
  for (const rule of violations) {
    for (const node of rule.nodes) faults.push(`${rule.id}, ${rule.help}: ${node.html.slice(0, 160)}: ${node.failureSummary}`);
  }
  for (const rule of incomplete) {
    for (const node of rule.nodes) {
      const element = document.querySelector(node.target[0]);
      // Each drawing is there twice, for wide and for narrow paper; the other one is looked at on the other screen.
      if (rule.id === "hidden-content" && element.matches(".wide, .narrow, .on-paper, .in-hand")) continue;
      if (rule.id.startsWith("color-contrast") && undecided(element) >= ENOUGH) continue;
      faults.push(`${rule.id} can't be told: ${node.html.slice(0, 160)}: ${node.failureSummary}`);
    }
  }
  return faults;
});
