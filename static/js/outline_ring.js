// Rings of points { x, y, h }: h is 0 on a point that only carries the drafted edge, 1 on one that can
// be taken hold of, 2 on one that a person has put or moved. `held` below is the set of indexes that
// are shown as handles now. Every function gives a new ring and leaves the old one as it was.

export const ringFrom = (listed) => listed.map(([x, y, h = 1]) => ({ x, y, h: Number(h) }));
export const listed = (ring) => ring.map(({ x, y, h }) => [round(x), round(y), h]);
const round = (value) => Math.round(value * 100) / 100;

export function pathOf(ring, closed = true) {
  if (!ring.length) return "";
  return `M${ring.map((p) => `${round(p.x)} ${round(p.y)}`).join("L")}${closed && ring.length > 2 ? "Z" : ""}`;
}

// The points shown as handles when they are to stand that far apart: those touched by hand, then
// corners before gentle bends.
export function handlesOf(ring, apart = 0) {
  const drafted = ring.flatMap((point, at) => (point.h ? [at] : []));
  const bend = new Map(drafted.map((at, nth) => [at, bendOf(ring, drafted, nth, apart)]));
  const held = drafted.filter((at) => ring[at].h === 2);
  for (const at of drafted.filter((one) => ring[one].h === 1).sort((a, b) => bend.get(b) - bend.get(a))) {
    if (held.every((other) => isApart(ring[other], ring[at], apart))) held.push(at);
  }
  return new Set(held.sort((a, b) => a - b));
}

// How sharply the line turns at a point between its neighbours that far off: near 0 where it is
// straight, 2 where it turns right back. A corner drafted with several points is still a corner.
function bendOf(ring, drafted, nth, apart) {
  const here = ring[drafted[nth]];
  const [before, after] = [-1, 1].map((step) => {
    for (let by = 1; by < drafted.length; by += 1) {
      const point = ring[drafted[(nth + step * by + by * drafted.length) % drafted.length]];
      if (isApart(here, point, apart)) return point;
    }
    return here;
  });
  const [a, b] = [[here.x - before.x, here.y - before.y], [after.x - here.x, after.y - here.y]];
  return 1 - (a[0] * b[0] + a[1] * b[1]) / (Math.hypot(...a) * Math.hypot(...b) || 1);
}

const isApart = (a, b, apart) => Math.hypot(a.x - b.x, a.y - b.y) >= apart;

// The point moves all the way; those between it and the next handles on both sides go along, less
// the farther they lie, so that the drafted edge keeps its shape.
export function moved(ring, held, at, dx, dy) {
  const next = ring.map((point) => ({ ...point }));
  next[at].x += dx;
  next[at].y += dy;
  next[at].h = 2;
  for (const step of [1, -1]) {
    const between = untilHandle(ring, held, at, step);
    const reach = between.at(-1)?.along ?? 0;
    for (const { index, along, isHandle } of between) {
      if (isHandle || !reach) continue;
      next[index].x += dx * (1 - along / reach);
      next[index].y += dy * (1 - along / reach);
    }
  }
  return next;
}

// From a point in one direction up to the next handle, with the way along the ring.
function untilHandle(ring, held, at, step) {
  const found = [];
  let along = 0;
  let last = at;
  for (let n = 1; n < ring.length; n += 1) {
    const index = (at + step * n + n * ring.length) % ring.length;
    along += Math.hypot(ring[index].x - ring[last].x, ring[index].y - ring[last].y);
    found.push({ index, along, isHandle: held.has(index) });
    if (held.has(index)) break;
    last = index;
  }
  return found;
}

// Without the handle the line runs straight from the one before it to the one after it.
export function without(ring, held, at) {
  const gone = new Set([at]);
  for (const step of [1, -1]) {
    for (const { index, isHandle } of untilHandle(ring, held, at, step)) if (!isHandle) gone.add(index);
  }
  return ring.filter((_, index) => !gone.has(index));
}

// The place on a ring nearest to a point: after which index it lies, and how far off.
export function nearestOn(ring, x, y, closed = true) {
  let best = { apart: Infinity };
  const last = closed ? ring.length : ring.length - 1;
  for (let at = 0; at < last; at += 1) {
    const a = ring[at];
    const b = ring[(at + 1) % ring.length];
    const [dx, dy] = [b.x - a.x, b.y - a.y];
    const along = Math.min(1, Math.max(0, ((x - a.x) * dx + (y - a.y) * dy) / (dx * dx + dy * dy || 1)));
    const [px, py] = [a.x + along * dx, a.y + along * dy];
    const apart = Math.hypot(px - x, py - y);
    if (apart < best.apart) best = { at, apart, x: px, y: py };
  }
  return best;
}

// A new handle on the line after that index; where it stands in the ring.
export function withHandle(ring, at, x, y) {
  const next = [...ring];
  next.splice(at + 1, 0, { x, y, h: 2 });
  return { ring: next, at: at + 1 };
}
