import { launch } from './browser.mjs'
const [file, out, width, theme, ...sels] = process.argv.slice(2)
const b = await launch(); const p = await (await b.newContext({viewport:{width:+width,height:900},colorScheme:theme})).newPage()
p.on('console',m=>console.log(m.text())); p.on('pageerror',e=>console.log(String(e)))
await p.goto('file://'+file)
for (const s of sels) { if(s==='top'){await p.screenshot({path:`${out}-top.png`})} else await p.locator(s).first().screenshot({path:`${out}-${s.replace(/\W/g,'')}.png`}) }
await b.close()
