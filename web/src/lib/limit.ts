import { text } from '../text'
import type { Question } from './document'
import { formatGiven, unitText, withUnit } from './format'

/** "at least 1400 cd/m²"; null for an open question. */
export function limitText(question: Question): string | null {
  const unit = unitText(question.unit, question.quantity)
  const { lower, upper } = question
  if (lower !== null && upper !== null) return withUnit(text.questions.limits.within(formatGiven(lower), formatGiven(upper)), unit)
  if (lower !== null) return withUnit(text.questions.limits.at_least(formatGiven(lower)), unit)
  return upper === null ? null : withUnit(text.questions.limits.at_most(formatGiven(upper)), unit)
}
