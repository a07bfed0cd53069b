"use strict";
(() => {
  const root = document.documentElement;
  const tip = document.getElementById("tip");
  root.classList.add("script");

  // Light and dark: what the system says, until the button says otherwise.
  const button = document.getElementById("theme");
  const system = matchMedia("(prefers-color-scheme: dark)");
  const dark = () => (root.dataset.theme ? root.dataset.theme === "dark" : system.matches);
  const name = () => { button.textContent = dark() ? "Light" : "Dark"; };
  button.hidden = false;
  button.setAttribute("aria-label", "Change between light and dark");
  button.addEventListener("click", () => { root.dataset.theme = dark() ? "light" : "dark"; name(); });
  system.addEventListener("change", name);
  name();

  // What is under the pointer, or has the focus.
  const VERDICTS = ["easy", "playable", "virtuoso", "unplayable"];
  const attack = (bar, x) => {
    let best = null;
    for (const one of bar.dataset.attacks.split(";")) {
      const [at, beat, notes, verdict] = one.split("|");
      const far = Math.abs(at - x);
      if (far <= 9 && (!best || far < best.far)) best = { far, beat, notes, verdict };
    }
    return best && `bar ${bar.dataset.bar}, beat ${best.beat}: ${best.notes} (${VERDICTS[best.verdict]})`;
  };
  const told = (target, x) => {
    if (!(target instanceof Element)) return null;
    const marked = target.closest(".bar [aria-label]");
    if (marked) return marked.getAttribute("aria-label");
    const bar = target.closest("svg.bar[data-attacks]");
    if (!bar) return null;
    const box = bar.getBoundingClientRect();
    return attack(bar, (x - box.left) * bar.width.baseVal.value / box.width);
  };
  const show = (text, x, y) => {
    tip.textContent = text;
    tip.hidden = false;
    const box = tip.getBoundingClientRect();
    tip.style.left = `${Math.max(8, Math.min(x + 14, root.clientWidth - box.width - 8))}px`;
    tip.style.top = `${y + 18 + box.height > innerHeight ? Math.max(8, y - box.height - 12) : y + 18}px`;
  };
  const hide = () => { tip.hidden = true; };
  const follow = (event) => {
    const text = told(event.target, event.clientX);
    if (text) show(text, event.clientX, event.clientY); else hide();
  };
  for (const score of document.querySelectorAll(".score")) {
    score.addEventListener("pointermove", (event) => { if (event.pointerType !== "touch") follow(event); });
    score.addEventListener("pointerleave", (event) => { if (event.pointerType !== "touch") hide(); });
    score.addEventListener("focusin", (event) => {
      if (!event.target.matches(":focus-visible")) return;
      const box = event.target.getBoundingClientRect();
      const text = told(event.target, 0);
      if (text) show(text, box.left, box.bottom);
    });
    score.addEventListener("focusout", hide);
  }
  addEventListener("scroll", hide, { passive: true });
  addEventListener("keydown", (event) => { if (event.key === "Escape") hide(); });

  // From a finding to its place, and back. A finger that taps a mark first gets the reason.
  let lit = [];
  let tapped = null;
  const light = (...some) => {
    lit.forEach((one) => one.classList.remove("lit"));
    lit = some.filter(Boolean);
    lit.forEach((one) => one.classList.add("lit"));
  };
  const go = (target) => {
    for (let one = target; one; one = one.parentElement) if (one.tagName === "DETAILS") one.open = true;
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    target.scrollIntoView({ block: "center", behavior: calm ? "auto" : "smooth" });
  };
  let touch = false;
  addEventListener("pointerdown", (event) => { touch = event.pointerType === "touch"; }, true);
  addEventListener("click", (event) => {
    const link = event.target instanceof Element && event.target.closest("a[href]");
    const inScore = event.target instanceof Element && event.target.closest(".score");
    if (!link) {
      tapped = null;
      if (inScore) follow(event); else hide();
      return;
    }
    const target = document.getElementById(link.getAttribute("href").slice(1));
    if (!target) return;
    if (inScore && touch && tapped !== link) {
      event.preventDefault();
      tapped = link;
      light(link, target);
      follow(event);
      return;
    }
    event.preventDefault();
    hide();
    light(target, inScore ? link : null);
    history.replaceState(null, "", link.getAttribute("href"));
    go(target);
    if (target.matches("a")) target.focus({ preventScroll: true });
    else {
      if (!target.hasAttribute("tabindex")) target.tabIndex = -1;
      target.focus({ preventScroll: true });
    }
  });

  // On paper everything is to be seen.
  let closed = [];
  addEventListener("beforeprint", () => {
    closed = [...document.querySelectorAll("details:not([open])")];
    closed.forEach((one) => { one.open = true; });
  });
  addEventListener("afterprint", () => { closed.forEach((one) => { one.open = false; }); });
})();
