// _list.ts is one list in the browser's own database, whose things are found by their id.

function open(base: string, list: string): Promise<IDBDatabase> {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open(base, 1)
    asked.onupgradeneeded = () => asked.result.createObjectStore(list, { keyPath: 'id' })
    asked.onsuccess = () => resolve(asked.result)
    asked.onerror = () => reject(asked.error ?? new Error(`no ${base}`))
  })
}

export type Within = <T>(mode: IDBTransactionMode, act: (s: IDBObjectStore) => IDBRequest<T>) => Promise<T>

/** listIn gives the way to do one thing with a list, wholly or not at all; the database is closed after it. */
export function listIn(base: string, list: string): Within {
  return async (mode, act) => {
    const db = await open(base, list)
    try {
      return await new Promise((resolve, reject) => {
        const t = db.transaction(list, mode)
        const r = act(t.objectStore(list))
        t.oncomplete = () => resolve(r.result)
        t.onabort = t.onerror = () => reject(t.error ?? new Error(`${base} is full`))
      })
    } finally {
      db.close()
    }
  }
}
