// left.ts: <div data-island="left"> on the page that a phone shows once it is signed out: all that it kept of this site
// is thrown away, since somebody else may have it next. What was never sent goes too: it could not be sent any more.
export function mount(): () => void {
  const gone = async (): Promise<void> => {
    // First the worker stops to keep what it is keeping just now.
    for (const r of (await navigator.serviceWorker?.getRegistrations()) ?? []) {
      if (new URL(r.scope).pathname !== '/week') continue
      r.active?.postMessage({ forget: true })
      await r.unregister()
    }
    if ('caches' in window) for (const name of await caches.keys()) await caches.delete(name)
    for (const db of (await indexedDB.databases?.()) ?? []) if (db.name) indexedDB.deleteDatabase(db.name)
    const files = (await navigator.storage?.getDirectory?.()) as (FileSystemDirectoryHandle & { keys(): AsyncIterable<string> }) | undefined
    if (files) for await (const name of files.keys()) await files.removeEntry(name, { recursive: true })
    localStorage.clear()
  }
  gone().catch((e: unknown) => console.error('left', e))
  return () => {}
}
