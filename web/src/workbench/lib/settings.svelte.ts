// How the page looks in this room, kept in this browser: theme, light level, size of type, single-key shortcuts.

export type Theme = 'dark' | 'light'
interface Kept {
  theme: Theme
  /** Light of the whole page against its own full light, 0.3 to 1. */
  level: number
  large: boolean
  keys: boolean
}
const NAME = 'provenit-room'
export const LEVELS = { least: 0.3, most: 1, step: 0.1 }

const clamp = (level: number) => Math.round(Math.min(LEVELS.most, Math.max(LEVELS.least, level)) * 10) / 10

export function readKept(text: string | null): Kept {
  const start: Kept = { theme: 'dark', level: 1, large: false, keys: true }
  try {
    const kept = JSON.parse(text ?? '{}') as Partial<Kept>
    return {
      theme: kept.theme === 'light' ? 'light' : 'dark',
      level: typeof kept.level === 'number' && Number.isFinite(kept.level) ? clamp(kept.level) : start.level,
      large: kept.large === true,
      keys: kept.keys !== false,
    }
  } catch {
    return start
  }
}

class Settings {
  theme = $state<Theme>('dark')
  level = $state(1)
  large = $state(false)
  keys = $state(true)

  constructor() {
    let text: string | null = null
    try {
      text = localStorage.getItem(NAME)
    } catch {
      // A browser that keeps nothing still shows the page.
    }
    Object.assign(this, readKept(text))
    this.show()
  }
  set(change: Partial<Kept>) {
    Object.assign(this, change)
    this.level = clamp(this.level)
    this.show()
    try {
      localStorage.setItem(NAME, JSON.stringify({ theme: this.theme, level: this.level, large: this.large, keys: this.keys }))
    } catch {
      // As above.
    }
  }
  private show() {
    const root = document.documentElement
    root.dataset.theme = this.theme
    // Dialogs stand above everything, the page's own dimming too.
    root.style.setProperty('--level', String(this.level))
    root.dataset.type = this.large ? 'large' : 'plain'
  }
}
export const settings = new Settings()
