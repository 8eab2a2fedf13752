// What is being looked at. Every view reads it and is told of changes; none keeps a copy.

export interface Looking {
  /** [s], in the chart */
  readonly time: number;
  readonly playing: boolean;
  /** Times the real speed. */
  readonly speed: number;
  /** Number of the element that was chosen; the time lies in it. */
  readonly element: number | null;
  readonly mate: string | null;
}

type Listener = (now: Looking, before: Looking) => void;

export class Store {
  now: Looking = { time: 0, playing: false, speed: 1, element: null, mate: null };
  private readonly listeners: Listener[] = [];

  subscribe(listener: Listener): void {
    this.listeners.push(listener);
    listener(this.now, this.now);
  }

  set(change: Partial<Looking>): void {
    const before = this.now;
    this.now = { ...before, ...change };
    for (const listener of this.listeners) listener(this.now, before);
  }
}
