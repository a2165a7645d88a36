// passkey.ts: <section data-island="passkey" data-begin="…" data-end="…" data-to="…"> with a button [data-go],
// a place for a sentence [data-problem] and perhaps a field [data-name]. It asks the server for a question,
// lets the browser answer it, and brings the answer back. Without it the page offers the password.
import { send } from '../page/_say'

type Bytes = Uint8Array<ArrayBuffer>

function bytes(s: string): Bytes {
  const plain = atob(s.replace(/-/g, '+').replace(/_/g, '/'))
  return Uint8Array.from(plain, (c) => c.charCodeAt(0))
}

function letters(b: ArrayBuffer | null): string | undefined {
  if (!b) return undefined
  return btoa(String.fromCharCode(...new Uint8Array(b))).replace(/\+/g, '-').replace(/\//g, '_').replace(/=+$/, '')
}

interface Named { type: 'public-key'; id: string }
interface Question {
  publicKey: Record<string, unknown> & { challenge: string; user?: { id: string }; excludeCredentials?: Named[]; allowCredentials?: Named[] }
}

// The question comes as JSON (Web Authentication, W3C, 5.1.8 and 5.1.9); browsers want its bytes as bytes.
async function ask({ publicKey: q }: Question): Promise<unknown> {
  const keys = (l: Named[] | undefined) => l?.map((k) => ({ ...k, id: bytes(k.id) }))
  const made = { ...q, challenge: bytes(q.challenge), allowCredentials: keys(q.allowCredentials), excludeCredentials: keys(q.excludeCredentials) }
  const creating = q.user !== undefined
  const key = (creating
    ? await navigator.credentials.create({ publicKey: { ...made, user: { ...q.user, id: bytes(q.user!.id) } } as unknown as PublicKeyCredentialCreationOptions })
    : await navigator.credentials.get({ publicKey: made as unknown as PublicKeyCredentialRequestOptions })) as PublicKeyCredential | null
  if (!key) throw new DOMException('no passkey', 'NotAllowedError')
  const r = key.response
  const answer: Record<string, unknown> = { clientDataJSON: letters(r.clientDataJSON) }
  if (r instanceof AuthenticatorAttestationResponse) {
    answer.attestationObject = letters(r.attestationObject)
    answer.transports = r.getTransports?.() ?? []
  } else {
    const a = r as AuthenticatorAssertionResponse
    answer.authenticatorData = letters(a.authenticatorData)
    answer.signature = letters(a.signature)
    answer.userHandle = letters(a.userHandle)
  }
  return {
    id: key.id, rawId: letters(key.rawId), type: key.type, response: answer,
    authenticatorAttachment: key.authenticatorAttachment ?? undefined, clientExtensionResults: key.getClientExtensionResults(),
  }
}

function inWords(e: unknown): string {
  if (e instanceof DOMException) {
    switch (e.name) {
      case 'NotAllowedError': return 'Nothing was done: the device was not asked to the end. Press the button to try again.'
      case 'InvalidStateError': return 'This device holds a passkey of this studio already.'
      case 'SecurityError': return 'This browser binds no passkey to this address. Use a password here.'
    }
    return 'This device could not do it. Use a password here.'
  }
  return e instanceof Error ? e.message : 'That did not work. Try again in a moment.'
}

export function mount(root: HTMLElement): () => void {
  const go = root.querySelector<HTMLButtonElement>('[data-go]')
  const problem = root.querySelector<HTMLElement>('[data-problem]')
  const name = root.querySelector<HTMLInputElement>('[data-name]')
  if (!go || !problem) return () => {}
  if (!('credentials' in navigator) || !('PublicKeyCredential' in window)) {
    go.disabled = true
    problem.textContent = 'This browser knows no passkeys at this address. Use a password here.'
    problem.hidden = false
    return () => {}
  }
  const press = async () => {
    go.disabled = true
    problem.hidden = true
    try {
      const question = await send<Question>(root.dataset.begin ?? '', {})
      const credential = await ask(question)
      const done = await send<{ to: string }>(root.dataset.end ?? '', { credential, name: name?.value.trim() ?? '', to: root.dataset.to ?? '' })
      window.location.assign(root.dataset.begin === '/sign-in/passkey' ? done.to : (root.dataset.to ?? done.to))
    } catch (e) {
      problem.textContent = inWords(e)
      problem.hidden = false
      go.disabled = false
      go.focus()
    }
  }
  go.addEventListener('click', press)
  return () => go.removeEventListener('click', press)
}
