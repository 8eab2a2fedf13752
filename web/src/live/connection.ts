// The line to the program that serves this page: what it sends, and what is asked of it.
import type { LogLine, Sheet } from "../generated/sheet.ts";
import { readSheet } from "./validate.ts";

/** What the program tells while it works. */
export type News =
  | { kind: "sheet"; revision: number }
  | { kind: "work"; text: string; busy: boolean }
  | { kind: "run"; state: "going" | "done" | "stopped" | "failed"; time: number; text: string; line?: LogLine | null }
  /** Builds of a trial that goes on in a terminal; of 0: none does. */
  | { kind: "trial"; done: number; of: number }
  /** One of its builds, from 0, to be played; why it stopped, "" if it came to its end. */
  | { kind: "build"; number: number; lines: LogLine[]; reason: string };

export interface Proposal {
  id: string;
  file: string;
  text: string;
  diff: string;
}

export class Refusal extends Error {}

export async function fetchSheet(): Promise<Sheet> {
  const [sheet, schema] = await Promise.all([asked("/api/sheet"), asked("/api/schema")]);
  return readSheet(await sheet.json(), (await schema.json()) as object);
}

export async function fetchGeometry(): Promise<ArrayBuffer> {
  return (await asked("/api/geometry")).arrayBuffer();
}

export async function post<T>(path: string, body: object): Promise<T> {
  const answer = await asked(path, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body) });
  return (await answer.json()) as T;
}

async function asked(path: string, how: RequestInit = {}): Promise<Response> {
  const answer = await fetch(path, { ...how, cache: "no-store", credentials: "same-origin" });
  if (!answer.ok) throw new Refusal((await answer.text()) || `${answer.status} ${answer.statusText}`);
  return answer;
}

/** Listen until the page closes. lost: whether the line is down; it is tried again until it is up. */
export function listen(news: (n: News) => void, lost: (down: boolean) => void): void {
  let heard = Date.now();
  let source = open();
  function open(): EventSource {
    const stream = new EventSource("/api/events");
    stream.onopen = () => {
      heard = Date.now();
      lost(false);
    };
    stream.onmessage = (event: MessageEvent<string>) => {
      heard = Date.now();
      if (event.data) news(JSON.parse(event.data) as News);
    };
    stream.addEventListener("beat", () => {
      heard = Date.now();
    });
    stream.onerror = () => lost(true);
    return stream;
  }
  // A browser gives up after some errors, and a silent line is no line: then begin anew.
  setInterval(() => {
    if (source.readyState !== EventSource.CLOSED && Date.now() - heard < 8000) return;
    lost(true);
    source.close();
    heard = Date.now();
    source = open();
  }, 1000);
}
