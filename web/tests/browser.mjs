// Debian's Chromium, driven by playwright-core; CHROMIUM names another.
import { chromium } from 'playwright-core'

const ARGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
]

export const launch = () =>
  chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: ARGS })

export const THEMES = ['light', 'dark']
export const WIDTHS = [1280, 768, 360]
