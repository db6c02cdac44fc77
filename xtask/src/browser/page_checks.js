// Runs inside the page under test and returns its faults as sentences. `width` is the window's width in CSS pixels,
// `tallest` the most that the page may be high, null for one that may be as long as its list.
(width, tallest) => {
  const TARGET_MIN = 48;
  const ROUNDING = 0.5;
  const faults = [];
  const root = document.documentElement;
  const text = (value) => (value ?? "").replace(/\s+/g, " ").trim();

  const describe = (element) => {
    const id = element.id ? `#${element.id}` : "";
    const name = element.getAttribute("name");
    const said = text(element.textContent).slice(0, 40);
    return `<${element.tagName.toLowerCase()}${id}${name ? ` name=${name}` : ""}>${said ? ` "${said}"` : ""}`;
  };

  const labelled = (element) => {
    if (text(element.getAttribute("aria-label"))) return true;
    const ids = text(element.getAttribute("aria-labelledby")).split(" ").filter(Boolean);
    return ids.some((id) => text(document.getElementById(id)?.textContent));
  };

  const shown = (element) => {
    const box = element.getBoundingClientRect();
    if (getComputedStyle(element).visibility !== "visible") return false;
    // Also out: what is clipped to a dot or parked left of or above the page until it has focus.
    if (box.width <= 1 || box.height <= 1) return false;
    return box.right + scrollX > 0 && box.bottom + scrollY > 0;
  };

  const checkDocument = () => {
    if (root.clientWidth > width) faults.push(`laid out ${root.clientWidth} px wide for a window of ${width} px`);
    if (root.scrollWidth > root.clientWidth) {
      faults.push(`scrolls sideways: ${root.scrollWidth} px in ${root.clientWidth} px${widest()}`);
    }
    // Safety lies open the first time that a device shows it.
    const folded = [...document.querySelectorAll("details.safe:not([open])")];
    for (const safe of folded) safe.open = true;
    const tall = Math.ceil(document.body.getBoundingClientRect().height);
    if (tallest !== null && tall > tallest) faults.push(`${tall} px high; at most ${tallest}`);
    for (const safe of folded) safe.open = false;
    const headings = document.querySelectorAll("h1").length;
    if (headings !== 1) faults.push(`has ${headings} h1`);
    if (!text(root.lang)) faults.push("has no lang");
    if (!text(document.title)) faults.push("has no title");
  };

  // The innermost element that sticks out most, to say where to look.
  const widest = () => {
    let worst = null;
    let edge = root.clientWidth + ROUNDING;
    for (const element of document.body.querySelectorAll("*")) {
      const right = element.getBoundingClientRect().right + scrollX;
      if (right >= edge) [worst, edge] = [element, right];
    }
    return worst ? `, ${describe(worst)}` : "";
  };

  const checkNames = () => {
    for (const image of document.querySelectorAll("img, svg[role=img], [role=img]")) {
      const hidden = image.closest("[aria-hidden=true]") || image.getAttribute("alt") === "";
      const named = labelled(image) || text(image.getAttribute("alt")) || text(image.querySelector(":scope > title")?.textContent);
      if (!hidden && !named) faults.push(`picture without a name: ${describe(image)}`);
    }
    for (const control of document.querySelectorAll("input, select, textarea")) {
      if (["hidden", "submit", "button", "reset", "image"].includes(control.type)) continue;
      const named = labelled(control) || [...(control.labels ?? [])].some((label) => text(label.textContent));
      if (!named) faults.push(`form control without a label: ${describe(control)}`);
    }
    for (const target of document.querySelectorAll("a[href], button, input[type=submit], input[type=button]")) {
      if (target.closest("[hidden]")) continue;
      const named = text(target.textContent) || text(target.value) || labelled(target) ||
        target.querySelector("img[alt]:not([alt=''])") || target.querySelector("svg[aria-label], svg > title");
      if (!named) faults.push(`nothing says what this does: ${target.outerHTML.slice(0, 80)}`);
    }
  };

  // A link amid the words of a paragraph is as high as its line: that one may be low.
  const isAmidWords = (element) => {
    const paragraph = element.closest("p");
    if (element.tagName !== "A" || !paragraph || getComputedStyle(element).display !== "inline") return false;
    return text(paragraph.textContent) !== text(element.textContent);
  };

  const targetHeight = (element) => {
    const boxes = [element];
    // A tick box is worked by its label too.
    if (["checkbox", "radio"].includes(element.type)) boxes.push(...(element.labels ?? []));
    return Math.max(...boxes.map((one) => one.getBoundingClientRect().height));
  };

  const checkTargets = () => {
    const places = ["main", "nav", "header"];
    const kinds = ["a[href]", "button", "input:not([type=hidden])", "select", "textarea", "summary"];
    const selector = places.flatMap((place) => kinds.map((kind) => `${place} ${kind}`)).join(", ");
    for (const target of document.querySelectorAll(selector)) {
      if (!shown(target) || isAmidWords(target)) continue;
      const height = targetHeight(target);
      if (height < TARGET_MIN - ROUNDING) faults.push(`only ${height.toFixed(1)} px high: ${describe(target)}`);
    }
  };

  checkDocument();
  checkNames();
  checkTargets();
  return faults;
};
