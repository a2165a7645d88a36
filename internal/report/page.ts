// The player of the page that `antiphon hear --html` writes. Without it the page is complete to read:
// the sound has the browser's own controls and each finding links to its bar.

/** A stretch of the take that belongs to one drawn bar. */
interface Bar { el: HTMLElement; from: number; to: number; label: string; line: SVGLineElement | null; left: number; right: number; }

/** Seconds of lead-in, so that the ear has arrived when the place comes. */
const LEAD_IN = 1.2;

export function mount(root: HTMLElement): void {
  const audio = root.querySelector<HTMLAudioElement>("audio")!;
  const play = root.querySelector<HTMLButtonElement>("[data-play]")!;
  const again = root.querySelector<HTMLButtonElement>("[data-again]")!;
  const slider = root.querySelector<HTMLInputElement>("[data-slider]")!;
  const where = root.querySelector<HTMLOutputElement>("[data-where]")!;
  const file = root.querySelector<HTMLInputElement>("[data-file]");
  const head = root.querySelector<SVGLineElement>("[data-head]");
  const take = root.querySelector<SVGSVGElement>("[data-take]");
  const duration = Number(root.querySelector<HTMLElement>("main")!.dataset.duration) || 0;
  const bars = [...root.querySelectorAll<HTMLElement>("[data-bar]")].map(readBar).sort((a, b) => a.from - b.from);
  let loop: { from: number; to: number } | null = null;
  let current: Bar | null = null;

  root.classList.add("js");
  audio.controls = false;
  audio.preservesPitch = true;
  (audio as unknown as { webkitPreservesPitch: boolean }).webkitPreservesPitch = true;
  slider.max = String(duration);

  const canPlay = () => audio.currentSrc !== "" || audio.src !== "";

  function seek(to: number): void {
    const s = Math.min(Math.max(0, to), Math.max(0, duration - 0.05));
    audio.currentTime = s;
    show(s);
  }

  function start(): void {
    if (canPlay()) audio.play().catch(() => { where.value = "This browser cannot play the sound."; });
  }

  /** Plays a place with a lead-in; with "repeat" pressed it comes round again. */
  function jump(from: number, to: number): void {
    loop = { from: Math.max(0, from - LEAD_IN), to: Math.max(to, from) + 1.5 };
    seek(loop.from);
    start();
  }

  function show(s: number): void {
    const bar = barAt(bars, s, current);
    if (bar !== current) {
      current?.el.classList.remove("now");
      current?.line?.setAttribute("visibility", "hidden");
      bar?.el.classList.add("now");
      current = bar;
    }
    if (bar?.line) {
      const share = Math.min(1, Math.max(0, (s - bar.from) / Math.max(0.01, bar.to - bar.from)));
      const x = String(bar.left + share * (bar.right - bar.left));
      bar.line.setAttribute("x1", x);
      bar.line.setAttribute("x2", x);
      bar.line.setAttribute("visibility", "visible");
    }
    if (head && duration > 0) {
      const x = `${(100 * s / duration).toFixed(3)}%`;
      head.setAttribute("x1", x);
      head.setAttribute("x2", x);
    }
    const text = clock(s) + (bar ? `, bar ${bar.label}` : "");
    where.value = `${clock(s)} of ${clock(duration)}` + (bar ? ` · bar ${bar.label}` : "");
    slider.value = String(s);
    slider.setAttribute("aria-valuetext", text);
  }

  function frame(): void {
    if (loop && again.getAttribute("aria-pressed") === "true" && audio.currentTime >= loop.to) audio.currentTime = loop.from;
    show(audio.currentTime);
    if (!audio.paused) requestAnimationFrame(frame);
  }

  play.addEventListener("click", () => {
    if (!canPlay()) { file?.click(); return; }
    if (audio.paused) start(); else audio.pause();
  });
  again.addEventListener("click", () => {
    const on = again.getAttribute("aria-pressed") !== "true";
    again.setAttribute("aria-pressed", String(on));
    if (on && !loop && current) loop = { from: current.from, to: current.to };
    if (!on) loop = null;
  });
  audio.addEventListener("play", () => { play.textContent = "Pause"; requestAnimationFrame(frame); });
  audio.addEventListener("pause", () => { play.textContent = "Play"; });
  audio.addEventListener("seeked", () => show(audio.currentTime));
  audio.addEventListener("ended", () => { if (loop && again.getAttribute("aria-pressed") === "true") { seek(loop.from); start(); } });
  slider.addEventListener("input", () => { loop = null; seek(Number(slider.value)); });
  root.querySelectorAll<HTMLInputElement>("[name=speed]").forEach((r) =>
    r.addEventListener("change", () => { audio.defaultPlaybackRate = audio.playbackRate = Number(r.value); }));
  file?.addEventListener("change", () => {
    const f = file.files?.[0];
    if (f) { audio.src = URL.createObjectURL(f); audio.load(); start(); }
  });
  take?.addEventListener("click", (e) => {
    const box = take.getBoundingClientRect();
    loop = null;
    seek(duration * (e.clientX - box.left) / box.width);
  });
  root.querySelectorAll<HTMLButtonElement>("[data-s]").forEach((b) =>
    b.addEventListener("click", () => jump(Number(b.dataset.s), Number(b.dataset.to ?? b.dataset.s))));
  root.querySelectorAll<HTMLElement>("[data-thread]").forEach(rove);
  show(0);
}

function readBar(el: HTMLElement): Bar {
  const d = el.dataset;
  return { el, from: Number(d.from), to: Number(d.to), label: d.bar ?? "", line: el.querySelector<SVGLineElement>("[data-now]"),
    left: Number(d.left), right: Number(d.right) };
}

/** The bar that sounds at s; bars are in order of time and may leave gaps. */
function barAt(bars: Bar[], s: number, near: Bar | null): Bar | null {
  if (near && s >= near.from && s < near.to) return near;
  let lo = 0, hi = bars.length;
  while (lo < hi) {
    const mid = (lo + hi) >> 1;
    if (bars[mid]!.from <= s) lo = mid + 1; else hi = mid;
  }
  const bar = bars[lo - 1];
  return bar && s < bar.to ? bar : null;
}

/** One tab stop for the bars of a pass; the arrow keys go from bar to bar. */
function rove(thread: HTMLElement): void {
  const buttons = [...thread.querySelectorAll<HTMLButtonElement>("button")];
  thread.addEventListener("keydown", (e) => {
    const i = buttons.indexOf(document.activeElement as HTMLButtonElement);
    const step = ({ ArrowRight: 1, ArrowLeft: -1, Home: -i, End: buttons.length - 1 - i } as Record<string, number>)[e.key];
    const next = i >= 0 && step !== undefined ? buttons[i + step] : undefined;
    if (!next) return;
    e.preventDefault();
    buttons.forEach((b) => { b.tabIndex = -1; });
    next.tabIndex = 0;
    next.focus();
  });
}

function clock(s: number): string {
  const t = Math.floor(Math.max(0, s));
  const two = (n: number) => String(n).padStart(2, "0");
  return t >= 3600 ? `${Math.floor(t / 3600)}:${two(Math.floor(t / 60) % 60)}:${two(t % 60)}` : `${Math.floor(t / 60)}:${two(t % 60)}`;
}

mount(document.documentElement);
