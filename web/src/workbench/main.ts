import { mount } from 'svelte'
import Shell from './Shell.svelte'
import { workbench } from './state.svelte'
import './workbench.css'

mount(Shell, { target: document.getElementById('page')! })
void workbench.start()
