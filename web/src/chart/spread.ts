// Labels beside a time axis that must not lie on each other: least squares with an order constraint (pool
// adjacent violators; Barlow et al., Statistical Inference under Order Restrictions, 1972; from memory).

/** Places in the given order, at least `pitch` apart, as near to the wanted ones as that allows. */
export function spread(wanted: number[], pitch: number): number[] {
  const blocks: { mean: number; count: number }[] = [];
  wanted.forEach((place, i) => {
    let now = { mean: place - i * pitch, count: 1 };
    for (let last = blocks[blocks.length - 1]; last && last.mean > now.mean; last = blocks[blocks.length - 1]) {
      blocks.pop();
      const count = last.count + now.count;
      now = { mean: (last.mean * last.count + now.mean * now.count) / count, count };
    }
    blocks.push(now);
  });
  const means = blocks.flatMap((b) => Array<number>(b.count).fill(b.mean));
  return means.map((mean, i) => mean + i * pitch);
}
