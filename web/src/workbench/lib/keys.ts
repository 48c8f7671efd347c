// Single keys of the workbench. They rest while a person types, and can be switched off (WCAG 2.1.4).

export interface KeyDone {
  key: string
  /** With Control, or Command on a Mac. */
  ctrl?: boolean
  run: () => void
}

const typing = (target: EventTarget | null): boolean => {
  const element = target as { tagName?: string; isContentEditable?: boolean; type?: string } | null
  if (!element?.tagName) return false
  if (element.isContentEditable || ['TEXTAREA', 'SELECT'].includes(element.tagName)) return true
  return element.tagName === 'INPUT' && !['checkbox', 'radio', 'button', 'submit'].includes(element.type ?? 'text')
}

type Pressed = Pick<KeyboardEvent, 'key' | 'ctrlKey' | 'metaKey' | 'altKey' | 'target' | 'defaultPrevented'>

/** What this press means, or null. `single`: whether keys without Control count at all. */
export function keyMeant(event: Pressed, all: KeyDone[], single: boolean): KeyDone | null {
  if (event.defaultPrevented || event.altKey || typing(event.target)) return null
  const ctrl = event.ctrlKey || event.metaKey
  if (!ctrl && !single) return null
  return all.find((k) => k.key === event.key && (k.ctrl ?? false) === ctrl) ?? null
}
